import { DAY } from '../../model/clock.ts'
import type { DoseEffect, HalfLife, Span } from './dose-effect.ts'
import type { AllowedCourse, ResponseFit } from './fit-response.ts'
import { fittedCurve } from './fitted-curve.ts'
import { type GridShape, LAG_BLUR_DAYS, RETURN_RATIO } from './response-grid.ts'
import { responseAt } from './response-shape.ts'
import { WEEK, type WeeklySeries } from '../aggregate/weekly-medians.ts'
import { say } from '../../words/say.ts'

/** Effects below this are not told as effects, pH. */
export const LEAST_EFFECT_PH = 0.1
/** Weekly values after the dose that the highest point needs. */
export const PEAK_WEEKS = 12
/** An upper end of the half-life beyond this many times what was watched is as good as open. */
const OPEN_BEYOND = 3
/** A half-life is told when at least this share of its lower end was watched. */
const WATCHED_SHARE = 0.5

export type Judged = Pick<
  DoseEffect,
  'onsetDays' | 'peakDays' | 'peak' | 'present' | 'halfLife' | 'halfBackAt' | 'curve' | 'points'
> & { readonly clear: boolean }

/** What the allowed courses say of one dose. */
export function judgeDose(
  fit: ResponseFit,
  dose: number,
  {
    weekly,
    at,
    weeksAfter,
    now,
  }: { weekly: WeeklySeries; at: number; weeksAfter: number; now: number },
): Judged {
  const seenDays = ((weekly.time.at(-1) ?? at) - at) / DAY
  const effectAt = (days: number): Span =>
    heights(fit, dose, (course) => responseAt(course.shape, days))
  const peak = heights(fit, dose, ({ shape }) =>
    responseAt(shape, Math.min(seenDays, shape.peakDay)),
  )
  const clear =
    fit.gain[dose]! > fit.chanceGain &&
    (peak.low! > 0 || peak.high! < 0) &&
    Math.abs(peak.value!) >= LEAST_EFFECT_PH
  const lags = ends(fit.allowed, ({ shape }) => shape.lagDays)
  const tops = ends(fit.allowed, ({ shape }) => shape.peakDay)
  const bestTop = fit.best.shape.peakDay
  const enough = weeksAfter >= PEAK_WEEKS
  const halfLife: HalfLife = !enough
    ? {
        kind: 'unknown',
        reason: say`needs ${PEAK_WEEKS} weekly values after it, has ${weeksAfter}`,
      }
    : halfLifeOf(fit, seenDays)
  const shown = weekly.time.findIndex((time) => time >= at - POINTS_BEFORE_MS)
  return {
    clear,
    onsetDays: {
      value: fit.best.shape.lagDays,
      low: Math.max(0, lags.low - LAG_BLUR_DAYS),
      high: lags.high + LAG_BLUR_DAYS,
    },
    peakDays: enough
      ? {
          value: bestTop <= seenDays ? bestTop : null,
          low: Math.min(tops.low, seenDays),
          high: tops.high <= seenDays ? tops.high : null,
        }
      : null,
    peak,
    present: effectAt((now - at) / DAY),
    halfLife,
    halfBackAt:
      halfLife.kind === 'known' && halfLife.days.value !== null
        ? at + (bestTop + halfLife.days.value) * DAY
        : null,
    curve: fittedCurve(fit, dose, { at, until: weekly.time.at(-1) ?? at }),
    points: {
      time: weekly.time.slice(shown),
      value: fit.responses[dose]!.slice(shown),
    },
  }
}

/** Points are shown from here before the dose on: enough to see the level it started from. */
const POINTS_BEFORE_MS = 26 * WEEK

/**
 * "Has not turned" is the honest answer while a course without return is allowed, or while the interval's upper
 * end is far beyond what was watched; then only the lower end is told, never more than was watched can carry.
 */
function halfLifeOf(fit: ResponseFit, seenDays: number): HalfLife {
  const since = seenDays - topDay(fit.best.shape)
  if (!(since > 0)) return { kind: 'unknown', reason: say`the highest point is not reached yet` }
  const halves = ends(fit.allowed, ({ shape }) => shape.halfDays)
  const blur = Math.sqrt(RETURN_RATIO)
  const low = halves.low / blur
  const high = halves.high * blur
  const carried = since / WATCHED_SHARE
  if (high > OPEN_BEYOND * since) {
    return { kind: 'at least', days: Math.floor(Math.min(low, carried)) }
  }
  if (low > carried) {
    return { kind: 'unknown', reason: say`too little time has passed since the highest point` }
  }
  const value = likelyHalf(fit.allowed)
  return { kind: 'known', days: { value, low, high }, early: since < value }
}

/** Mean of the allowed courses by likelihood, on the scale of ratios: nearer to the truth than the best alone. */
function likelyHalf(courses: readonly AllowedCourse[]): number {
  let sum = 0
  let weights = 0
  for (const { weight, shape } of courses) {
    sum += weight * Math.log(shape.halfDays)
    weights += weight
  }
  return Math.exp(sum / weights)
}

/** The highest point; of a course without return, where all but a twentieth of the rise is done. */
function topDay({ lagDays, riseHalfDays, peakDay }: GridShape): number {
  return Number.isFinite(peakDay) ? peakDay : lagDays + riseHalfDays * Math.log2(20)
}

/** Best value and ends over the allowed courses of amplitude times a share that depends on the course. */
function heights(fit: ResponseFit, dose: number, shareOf: (course: AllowedCourse) => number): Span {
  let low = Infinity
  let high = -Infinity
  for (const course of fit.allowed) {
    const share = shareOf(course)
    const amplitude = course.amplitude[dose]!
    const reach = course.reach[dose]!
    low = Math.min(low, share * (amplitude - reach))
    high = Math.max(high, share * (amplitude + reach))
  }
  return { value: fit.best.amplitude[dose]! * shareOf(fit.best), low, high }
}

function ends(
  courses: readonly AllowedCourse[],
  of: (course: AllowedCourse) => number,
): { low: number; high: number } {
  let low = Infinity
  let high = -Infinity
  for (const course of courses) {
    low = Math.min(low, of(course))
    high = Math.max(high, of(course))
  }
  return { low, high }
}
