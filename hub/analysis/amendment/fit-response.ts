import { DAY } from '../../model/clock.ts'
import { correctedRho, whiten } from '../stats/ar-regression.ts'
import { fQuantile } from '../stats/f-quantile.ts'
import { leastSquares } from '../stats/least-squares.ts'
import { COARSE_GRID, type GridShape, RESPONSE_GRID } from './response-grid.ts'
import { type ResponseProfile, responseProfile } from './response-profile.ts'
import { responseAt } from './response-shape.ts'
import type { WeeklySeries } from '../aggregate/weekly-medians.ts'

/** A course the data allow, with the amplitudes it takes. */
export interface AllowedCourse {
  readonly shape: GridShape
  /** Highest effect of each dose, pH. */
  readonly amplitude: Float64Array
  /** How far each may go up or down before the data no longer allow it, pH. */
  readonly reach: Float64Array
  /** How likely it is against the best, 0 to 1. */
  readonly weight: number
}

export interface ResponseFit {
  readonly best: AllowedCourse
  /** Every course within the 95 % profile region, the best among them. */
  readonly allowed: readonly AllowedCourse[]
  /** Correlation of neighbouring weeks. */
  readonly rho: number
  /** Standard deviation of what is new in a week, pH. */
  readonly noise: number
  /** F of leaving a dose's response out, all other courses tried again: how much each dose explains. */
  readonly gain: Float64Array
  /** What `gain` reaches by chance in about one of twenty records without any effect. */
  readonly chanceGain: number
  /** The weekly values less all that is not the response (level, season, the other doses), for each dose. */
  readonly responses: readonly Float64Array[]
}

/** Lag, rise and return count as fitted too. */
const KINETICS = 3
/**
 * With nothing there the best of thousands of courses still explains something: about as much as four free columns
 * (found on noise, checked in the tests).
 */
const TRIED = KINETICS + 1
/** Above 0.95 because the correlation of short records is known badly. */
const SURE = 0.98
const LEAST_FREEDOM = 4
const LEAST_FREE_WEEKS = 3

/**
 * Fits level (and season) plus one rise and return for each dose, all doses with the same course, to weekly
 * values whose errors follow each other: a grid of courses, the linear part at each by least squares on data
 * freed of first-order correlation. What the data allow is every course whose sum of squares is within
 * 1 + F(0.95; 1, free weeks) / (n - p) of the least (profile region; Seber and Wild, Nonlinear Regression, 1989,
 * from memory).
 *
 * @param shared columns for level and season
 * @param doses epoch ms
 */
export function fitResponse(
  weekly: WeeklySeries,
  shared: readonly Float64Array[],
  doses: readonly number[],
): ResponseFit {
  const p = shared.length + doses.length + KINETICS
  const freedom = Math.max(LEAST_FREEDOM, weekly.value.length - p)
  const columnsOf = (shape: GridShape): readonly Float64Array[] =>
    doses.map((dose) => weekly.time.map((at) => responseAt(shape, (at - dose) / DAY)))

  const coarse = responseProfile(weekly, shared, doses, COARSE_GRID, 0)
  const coarseFit = leastSquares(
    [...shared, ...columnsOf(COARSE_GRID.shapes[coarse.best]!)],
    weekly.value,
  )
  const rho = correctedRho(coarseFit.residuals, weekly.step, p)

  // What neighbouring weeks share counts once.
  const free = Math.max(
    LEAST_FREE_WEEKS,
    (weekly.value.length * (1 - rho)) / (1 + rho) - shared.length,
  )
  const profile = responseProfile(weekly, shared, doses, RESPONSE_GRID, rho)
  const least = profile.sse[profile.best]!
  const most = least * (1 + fQuantile(0.95, 1, free) / freedom)
  const courseOf = (index: number): AllowedCourse => {
    const { amplitude, inverse } = profile.amplitudes(index)
    const room = Math.max(0, most - profile.sse[index]!)
    return {
      shape: RESPONSE_GRID.shapes[index]!,
      amplitude,
      reach: inverse.map((one) => Math.sqrt(room * one)),
      weight: Math.exp((-(profile.sse[index]! - least) / least) * (freedom / 2)),
    }
  }
  const allowed: AllowedCourse[] = []
  for (const [index, sse] of profile.sse.entries()) if (sse <= most) allowed.push(courseOf(index))
  const best = courseOf(profile.best)

  const columns = columnsOf(best.shape)
  const white = (column: Float64Array): Float64Array => whiten(column, weekly.step, rho)
  const { beta } = leastSquares([...shared, ...columns].map(white), white(weekly.value))
  // The thin grid will do, on both sides.
  const thin =
    doses.length === 1 ? profile : responseProfile(weekly, shared, doses, COARSE_GRID, rho)
  const explains = (dose: number): number => {
    const rest = doses.toSpliced(dose, 1)
    const without =
      rest.length === 0
        ? thin.sseNone
        : leastOf(responseProfile(weekly, shared, rest, COARSE_GRID, rho))
    return ((without - leastOf(thin)) / leastOf(thin)) * freedom
  }
  return {
    best,
    allowed,
    rho,
    chanceGain: TRIED * fQuantile(SURE, TRIED, free),
    gain: Float64Array.from(doses, (_, dose) => explains(dose)),
    noise: Math.sqrt(least / freedom),
    responses: doses.map((_, own) =>
      weekly.value.map((value, i) => {
        let rest = value
        for (const [c, column] of shared.entries()) rest -= beta[c]! * column[i]!
        for (const [c, column] of columns.entries()) {
          if (c !== own) rest -= beta[shared.length + c]! * column[i]!
        }
        return rest
      }),
    ),
  }
}

function leastOf({ sse, best }: ResponseProfile): number {
  return sse[best]!
}
