import type { DoseEffect } from '../../analysis/amendment/dose-effect.ts'
import { DAY } from '../../model/clock.ts'
import type { Interval3 } from '../interval3.ts'

/** A twelfth of a year, ms. */
export const MONTH_MS = (365.25 / 12) * DAY

/**
 * What a treatment gained so far: its fitted effect summed over time from the day it went on to `at`, pH times months,
 * counted towards `toward`. The ends of the interval take the course as low, or as high, all the way: that is wider
 * than the truth, never narrower. Null without a course.
 */
export function phMonths(effect: DoseEffect, toward: 1 | -1, at: number): Interval3 | null {
  const { curve } = effect
  if (curve === null) return null
  const column = (of: Float64Array): number | null => area(curve.time, of, effect.at, at)
  const [value, a, b] = [column(curve.value), column(curve.low), column(curve.high)]
  if (value === null || a === null || b === null) return null
  return {
    value: toward * value,
    low: Math.min(toward * a, toward * b),
    high: Math.max(toward * a, toward * b),
  }
}

/** Trapezoids from `from` to `to`, the last point carried on for a month at most; null with fewer than two points. */
function area(time: Float64Array, value: Float64Array, from: number, to: number): number | null {
  const points = Array.from(time, (at, i) => ({ at, value: value[i]! })).filter(
    (p) => p.at >= from && Number.isFinite(p.value),
  )
  const inside = points.filter((p) => p.at <= to)
  const [first] = inside
  const last = inside.at(-1)
  if (first === undefined || last === undefined || inside.length < 2) return null
  const next = points[inside.length]
  const end =
    next === undefined
      ? { at: Math.min(to, last.at + MONTH_MS), value: last.value }
      : {
          at: to,
          value: last.value + ((next.value - last.value) * (to - last.at)) / (next.at - last.at),
        }
  // Nothing had happened when it went on.
  let before = { at: from, value: first.at === from ? first.value : 0 }
  let sum = 0
  for (const point of [...inside, end]) {
    sum += ((point.value + before.value) / 2) * (point.at - before.at)
    before = point
  }
  return sum / MONTH_MS
}
