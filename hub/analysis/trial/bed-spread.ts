import { fQuantile } from '../stats/f-quantile.ts'
import type { WeekTable } from './bed-weeks.ts'
import { contrastError } from './contrast-error.ts'
import type { OwnNoise } from './own-noise.ts'

/** Beds that scatter no more than this level of chance are taken as alike. */
const LEVEL = 0.95
const LEAST_BEDS = 3

/**
 * Variance between beds of a lasting change of level, beyond what the weeks' own noise brings along: the beds'
 * changes from the first half of the past to the second, by the method of moments. 0 where chance explains
 * them; null with fewer than three beds, which cannot tell.
 */
export function bedSpread({ step, rows }: WeekTable, noise: OwnNoise): number | null {
  if (rows.length < LEAST_BEDS) return null
  const whole = Array.from(step, (_, i) => i).filter((i) =>
    rows.every((row) => Number.isFinite(row[i]!)),
  )
  const half = Math.floor(whole.length / 2)
  const changes = rows.map(
    (row) =>
      mean(whole.slice(half).map((i) => row[i]!)) - mean(whole.slice(0, half).map((i) => row[i]!)),
  )
  const centre = mean(changes)
  const freedom = rows.length - 1
  const seen = changes.reduce((sum, change) => sum + (change - centre) ** 2, 0) / freedom
  const halves = Float64Array.from(whole, (i) => step[i]! - step[whole[half]!]!)
  const { unit } = contrastError(halves, noise.rho)
  const expected = noise.variance * unit * unit
  return seen > expected * fQuantile(LEVEL, freedom, noise.freedom) ? seen - expected : 0
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length
}
