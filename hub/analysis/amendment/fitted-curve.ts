import { DAY } from '../../model/clock.ts'
import type { AllowedCourse, ResponseFit } from './fit-response.ts'
import { WEEK } from '../aggregate/weekly-medians.ts'

/** Course of one dose's effect with its interval, pH, week by week from one week before it. */
export interface FittedCurve {
  readonly time: Float64Array
  readonly value: Float64Array
  readonly low: Float64Array
  readonly high: Float64Array
}

/**
 * The best course, between the lowest and the highest of all that the data allow. There may be thousands of
 * them: each is worked out by multiplying from week to week.
 */
export function fittedCurve(
  fit: ResponseFit,
  dose: number,
  { at, until }: { at: number; until: number },
): FittedCurve {
  const count = Math.max(2, Math.round((until - at) / WEEK) + 2)
  const time = Float64Array.from({ length: count }, (_, i) => at + (i - 1) * WEEK)
  const low = new Float64Array(count).fill(Infinity)
  const high = new Float64Array(count).fill(-Infinity)
  for (const course of fit.allowed) {
    const share = weeklyShares(course, count)
    const bottom = course.amplitude[dose]! - course.reach[dose]!
    const top = course.amplitude[dose]! + course.reach[dose]!
    for (let i = 0; i < count; i++) {
      low[i] = Math.min(low[i]!, share[i]! * bottom)
      high[i] = Math.max(high[i]!, share[i]! * top)
    }
  }
  const most = fit.best.amplitude[dose]!
  return { time, value: weeklyShares(fit.best, count).map((share) => most * share), low, high }
}

/** Share of the highest effect in each week; week 1 is that of the dose. */
function weeklyShares({ shape }: AllowedCourse, count: number): Float64Array {
  const { lagDays, riseHalfDays, returnHalfDays, rawPeak } = shape
  const days = WEEK / DAY
  const out = new Float64Array(count)
  const from = Math.floor(lagDays / days) + 2
  const since = (from - 1) * days - lagDays
  let left = 2 ** (-since / returnHalfDays) / rawPeak
  let missing = 2 ** (-since / riseHalfDays) / rawPeak
  const keep = 2 ** (-days / returnHalfDays)
  const rise = 2 ** (-days / riseHalfDays)
  for (let i = from; i < count; i++) {
    out[i] = left - missing
    left *= keep
    missing *= rise
  }
  return out
}
