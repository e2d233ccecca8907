import { Z } from '../../analysis/stats/distributions.ts'
import type { Range } from '../../model/plan.ts'

/** Standard deviations of the logarithm, below and above the middle: `low` to `high` hold 90 %. */
export interface LogSpread {
  readonly middle: number
  readonly below: number
  readonly above: number
}

/** Nothing is known better than this, share. */
const LEAST_SPREAD = 0.02

export function logSpread({ low, typical, high }: Range): LogSpread {
  return {
    middle: Math.log(typical),
    below: Math.max(LEAST_SPREAD, Math.log(typical / low) / Z.two90),
    above: Math.max(LEAST_SPREAD, Math.log(high / typical) / Z.two90),
  }
}

export function rangeOf({ middle, below, above }: LogSpread): Range {
  return {
    low: Math.exp(middle - Z.two90 * below),
    typical: Math.exp(middle),
    high: Math.exp(middle + Z.two90 * above),
  }
}

/** The same with an independent doubt added, standard deviation of the logarithm. */
export function widened(range: Range, sd: number): Range {
  if (sd === 0) return range
  const { middle, below, above } = logSpread(range)
  return rangeOf({ middle, below: Math.hypot(below, sd), above: Math.hypot(above, sd) })
}

export function scaled({ low, typical, high }: Range, by: number): Range {
  return { low: low * by, typical: typical * by, high: high * by }
}

export interface Combined {
  readonly range: Range
  /** Share of each in the middle, in the order given. */
  readonly weights: readonly number[]
  /** By how much more than expected they lie apart; 1 or less: they agree. */
  readonly apart: number
}

/**
 * Log-normal sources combined by precision. Where they lie further apart than their doubts allow, the result is
 * widened by the ratio of Birge (Physical Review 40:207, 1932; from memory).
 */
export function combineRanges(ranges: readonly Range[]): Combined {
  const [only] = ranges
  if (only === undefined) throw new Error('nothing to combine')
  if (ranges.length === 1) return { range: only, weights: [1], apart: 0 }
  const spreads = ranges.map(logSpread)
  const precisions = spreads.map(({ below, above }) => 1 / ((below + above) / 2) ** 2)
  const whole = precisions.reduce((sum, p) => sum + p, 0)
  const weights = precisions.map((p) => p / whole)
  const middle = spreads.reduce((sum, s, i) => sum + weights[i]! * s.middle, 0)
  const misfit = spreads.reduce((sum, s, i) => sum + precisions[i]! * (s.middle - middle) ** 2, 0)
  const apart = Math.sqrt(misfit / (ranges.length - 1))
  const factor = Math.max(1, apart)
  const side = (of: (s: LogSpread) => number): number =>
    factor / Math.sqrt(spreads.reduce((sum, s) => sum + 1 / of(s) ** 2, 0))
  return {
    range: rangeOf({ middle, below: side((s) => s.below), above: side((s) => s.above) }),
    weights,
    apart,
  }
}
