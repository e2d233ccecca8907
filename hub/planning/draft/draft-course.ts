import type { Dosing } from '../../agronomy/dosing.ts'
import { DAY } from '../../model/clock.ts'
import type { PlanStage, Range } from '../../model/plan.ts'
import type { Draft } from '../draft.ts'
import type { Need } from '../need.ts'
import { predictedShare } from '../predict.ts'

const WEEK_MS = 7 * DAY
/** Shown beyond the last full effect, ms. */
const BEYOND_MS = 13 * WEEK_MS

/**
 * Expected pH week by week. The doubt of where the bed is now and the doubt of what the portions do are independent;
 * the portions among themselves are not: they rest on one buffering.
 */
export function draftCourse(
  at: number,
  need: Need,
  dosing: Dosing,
  stages: readonly PlanStage[],
): Draft['course'] {
  const ph = need.ph!
  const until = Math.max(at, ...stages.map(({ fullBy }) => fullBy)) + BEYOND_MS
  const count = Math.floor((until - at) / WEEK_MS) + 1
  const time = Float64Array.from({ length: count }, (_, i) => at + i * WEEK_MS)
  const course = {
    time,
    low: new Float64Array(count),
    typical: new Float64Array(count),
    high: new Float64Array(count),
  }
  const lastly = Math.max(...stages.map(({ fullBy }) => fullBy))
  for (const [i, then] of time.entries()) {
    let [least, likely, most] = [0, 0, 0]
    for (const { dueAt, change } of stages) {
      const share = predictedShare(dosing, (then - dueAt) / DAY)
      least += change.low * share.low
      likely += change.typical * share.typical
      most += change.high * share.high
    }
    const soFar = Math.min(1, (then - at) / Math.max(WEEK_MS, lastly - at))
    const middle = ph.value + (need.coming?.value ?? 0) * soFar + likely
    const towards = [least - likely, most - likely].toSorted((a, b) => a - b)
    course.typical[i] = middle
    course.low[i] = middle - Math.hypot(ph.value - ph.low, towards[0]!)
    course.high[i] = middle + Math.hypot(ph.high - ph.value, towards[1]!)
  }
  return course
}

/** Where the bed ends up when every portion has done all it does, pH. */
export function endsOf(need: Need, stages: readonly PlanStage[]): Range {
  const ph = need.ph!
  const sum = (of: (change: Range) => number): number =>
    stages.reduce((total, { change }) => total + of(change), 0)
  const likely = sum((c) => c.typical)
  const towards = [sum((c) => c.low) - likely, sum((c) => c.high) - likely].toSorted(
    (a, b) => a - b,
  )
  const middle = ph.value + (need.coming?.value ?? 0) + likely
  return {
    low: middle - Math.hypot(ph.value - ph.low, Math.min(0, towards[0]!)),
    typical: middle,
    high: middle + Math.hypot(ph.high - ph.value, Math.max(0, towards[1]!)),
  }
}
