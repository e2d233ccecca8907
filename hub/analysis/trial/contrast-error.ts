import { leastSquares } from '../stats/least-squares.ts'
import { whiten } from '../stats/ar-regression.ts'
import { tQuantile } from '../stats/t-quantile.ts'

/** How exactly the mean of some weeks can be held against the mean of earlier ones. */
export interface ContrastError {
  /** Standard error for noise of standard deviation 1. */
  readonly unit: number
  readonly freedom: number
}

/**
 * Standard error of a step between weeks before and weeks after when neighbouring weeks are alike: the weight of
 * the step in generalised least squares, just as the result will be worked out.
 *
 * @param step whole weeks, ascending; those from 0 on are after
 * @param rho correlation of neighbouring weeks
 */
export function contrastError(step: Float64Array, rho: number): ContrastError {
  const columns = [new Float64Array(step.length).fill(1), step.map((week) => (week >= 0 ? 1 : 0))]
  const white = columns.map((column) => whiten(column, step, rho))
  const { inverse } = leastSquares(white, new Float64Array(step.length))
  const fresh = 1 - rho * rho
  const worth = (step.length * (1 - rho)) / (1 + rho)
  return { unit: Math.sqrt(inverse[3]! * fresh), freedom: Math.max(3, worth - 2) }
}

const POWER = 0.8

/** What an effect must be for 80 % power at 95 %, in standard errors. */
export function powerFactor(freedom: number): number {
  return tQuantile(0.975, freedom) + tQuantile(POWER, freedom)
}
