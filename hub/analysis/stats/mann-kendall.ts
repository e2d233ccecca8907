import { checkColumn } from './check-column.ts'
import { twoSidedP } from './distributions.ts'

export interface MannKendall {
  /** Rising pairs minus falling ones. */
  readonly s: number
  readonly variance: number
  /** With continuity correction. */
  readonly z: number
  /** Two-sided, normal approximation, neighbours taken as independent. */
  readonly p: number
  /** Kendall's tau-b. */
  readonly tau: number
}

/**
 * Mann-Kendall test for a trend in either direction (Mann 1945, Kendall 1975), ties allowed. `tau` is NaN when all
 * values are the same. O(n^2).
 *
 * @param y values in order of time
 * @throws RangeError when a value is NaN or infinite
 */
export function mannKendall(y: Float64Array): MannKendall {
  checkColumn(y, y.length, 'y')
  const s = kendallS(y)
  const variance = kendallVariance(y)
  const z = kendallZ(s, variance)
  const n = y.length
  const pairs = (n * (n - 1)) / 2
  const tied = tieSizes(y).reduce((sum, t) => sum + (t * (t - 1)) / 2, 0)
  return {
    s,
    variance,
    z,
    p: twoSidedP(z),
    tau: s / Math.sqrt((pairs - tied) * pairs),
  }
}

export function kendallS(y: Float64Array): number {
  let s = 0
  for (let i = 0; i < y.length; i++) {
    for (let j = i + 1; j < y.length; j++) s += Math.sign(y[j]! - y[i]!)
  }
  return s
}

/** Variance of S when there is no trend and neighbours are independent, corrected for ties. */
export function kendallVariance(y: Float64Array): number {
  const n = y.length
  const term = (m: number): number => m * (m - 1) * (2 * m + 5)
  return (term(n) - tieSizes(y).reduce((sum, t) => sum + term(t), 0)) / 18
}

export function kendallZ(s: number, variance: number): number {
  return s === 0 || variance <= 0 ? 0 : (s - Math.sign(s)) / Math.sqrt(variance)
}

function tieSizes(y: Float64Array): number[] {
  const counts = new Map<number, number>()
  for (const value of y) counts.set(value, (counts.get(value) ?? 0) + 1)
  return Array.from(counts.values()).filter((t) => t > 1)
}
