import { halfAfterPeak, peakDay, rawPeak, type ResponseShape } from './response-shape.ts'

/** One course of the grid, with what follows from it. */
export interface GridShape extends ResponseShape {
  /** Days from the dose to the highest point. */
  readonly peakDay: number
  /** Days from there until half has gone. */
  readonly halfDays: number
  readonly rawPeak: number
}

/** Lags, half-times of the rise and of the return that are tried, days; every combination is a course. */
export interface ResponseGrid {
  readonly lags: readonly number[]
  readonly rises: readonly number[]
  readonly returns: readonly number[]
  /** Lags first, then rises, then returns; null where the return would be as fast as the rise. */
  readonly shapes: readonly (GridShape | null)[]
}

/** Ratio of neighbouring half-times of the return. */
export const RETURN_RATIO = (3000 / 20) ** (1 / 40)
/** Half the distance of neighbouring lags, days: what the onset is blurred by. */
export const LAG_BLUR_DAYS = 2
/** A return as fast as the rise cannot be told from it. */
const LEAST_APART = 0.95

const LAGS = [0, 3.5, 7, 10.5, 14, 17.5, 21, 25, 29, 35, 42, 50, 60, 75, 90]
const RISES = Array.from({ length: 15 }, (_, i) => 3 * (200 / 3) ** (i / 14))
const RETURNS = [...Array.from({ length: 41 }, (_, i) => 20 * RETURN_RATIO ** i), Infinity]

/** Covers limes that rise for half a year and salts that act within days. */
export const RESPONSE_GRID = responseGrid(LAGS, RISES, RETURNS)

/** A thin grid, enough to learn how residuals follow each other. */
export const COARSE_GRID = responseGrid(
  LAGS.filter((_, i) => i % 3 === 0),
  RISES.filter((_, i) => i % 2 === 0),
  RETURNS.filter((_, i) => i % 4 === 1),
)

function responseGrid(
  lags: readonly number[],
  rises: readonly number[],
  returns: readonly number[],
): ResponseGrid {
  const still = rises.flatMap((riseHalfDays) =>
    returns.map((returnHalfDays) => {
      if (LEAST_APART * returnHalfDays <= riseHalfDays) return null
      const shape = { lagDays: 0, riseHalfDays, returnHalfDays }
      return {
        ...shape,
        peakDay: peakDay(shape),
        halfDays: halfAfterPeak(shape),
        rawPeak: rawPeak(shape),
      }
    }),
  )
  const shapes = lags.flatMap((lagDays) =>
    still.map((shape) =>
      shape === null ? null : { ...shape, lagDays, peakDay: lagDays + shape.peakDay },
    ),
  )
  return { lags, rises, returns, shapes }
}
