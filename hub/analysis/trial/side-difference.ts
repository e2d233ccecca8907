import type { DailySeries } from '../aggregate/daily-series.ts'
import { WEEK, type WeeklySeries, weeklyMedians } from '../aggregate/weekly-medians.ts'
import { LEAST_WEEKS_BEFORE, MOST_WEEKS_BEFORE } from './trial-windows.ts'
import { say } from '../../words/say.ts'

/** Weekly difference of treated and untreated beds, each bed against its own level before. */
export interface SideDifference {
  /** Whole weeks since the start, ascending; the guard is left out. */
  readonly step: Float64Array
  /** Mean of the treated minus mean of the untreated, pH. */
  readonly value: Float64Array
  /** 1 from the end of the guard on, else 0. */
  readonly after: Float64Array
  readonly weeksBefore: number
  readonly weeksAfter: number
  /** Change of each bed from before to after, pH; beds without weeks on both sides are left out. */
  readonly treatedChanges: readonly number[]
  readonly untreatedChanges: readonly number[]
  /** Weeks with readings that do not count, and why. */
  readonly leftOutWeeks: readonly { readonly week: number; readonly reason: string }[]
  /** Beds that had too little before the start. */
  readonly leftOut: number
}

/** A week counts where at least this share of the beds of each side has it. */
const LEAST_BEDS_SHARE = 0.5

/**
 * @param guard whole weeks after the start that do not count
 * @param until epoch ms, nothing from here on
 */
export function sideDifference({
  treated,
  untreated,
  startsAt,
  guard,
  until,
}: {
  treated: readonly DailySeries[]
  untreated: readonly DailySeries[]
  startsAt: number
  guard: number
  until: number
}): SideDifference {
  const window = { origin: startsAt, from: startsAt - MOST_WEEKS_BEFORE * WEEK, to: until }
  const sideOf = (beds: readonly DailySeries[]): Side =>
    side(
      beds.map((bed) => weeklyMedians(bed, window)),
      guard,
    )
  const a = sideOf(treated)
  const b = sideOf(untreated)
  const steps = Array.from(a.weeks.keys())
    .filter((step) => b.weeks.has(step) && (step < 0 || step >= guard))
    .toSorted((one, other) => one - other)
  const seen = new Set([...a.seen, ...b.seen])
  const leftOutWeeks = Array.from(seen)
    .filter((week) => !steps.includes(week))
    .toSorted((one, other) => one - other)
    .map((week) => ({
      week,
      reason:
        week >= 0 && week < guard
          ? say`nothing acts at once: the first weeks do not count`
          : say`too few beds of one side have a value`,
    }))
  const step = Float64Array.from(steps)
  const weeksBefore = steps.filter((one) => one < 0).length
  return {
    step,
    value: step.map((one) => a.weeks.get(one)! - b.weeks.get(one)!),
    after: step.map((one) => (one >= 0 ? 1 : 0)),
    weeksBefore,
    weeksAfter: steps.length - weeksBefore,
    treatedChanges: a.changes,
    untreatedChanges: b.changes,
    leftOutWeeks,
    leftOut: a.leftOut + b.leftOut,
  }
}

interface Side {
  readonly weeks: ReadonlyMap<number, number>
  /** Weeks in which any bed of the side has a value. */
  readonly seen: readonly number[]
  readonly changes: readonly number[]
  readonly leftOut: number
}

/** Mean of one side week by week, each bed less its own mean before: beds that drop out leave no jump. */
function side(beds: readonly WeeklySeries[], guard: number): Side {
  const sums = new Map<number, { sum: number; beds: number }>()
  const changes: number[] = []
  let known = 0
  for (const { step, value } of beds) {
    const before = value.filter((_, i) => step[i]! < 0)
    if (before.length < LEAST_WEEKS_BEFORE) continue
    known++
    const level = mean(before)
    const later = value.filter((_, i) => step[i]! >= guard)
    if (later.length > 0) changes.push(mean(later) - level)
    for (const [i, week] of step.entries()) {
      const entry = sums.get(week) ?? { sum: 0, beds: 0 }
      entry.sum += value[i]! - level
      entry.beds++
      sums.set(week, entry)
    }
  }
  const weeks = new Map<number, number>()
  for (const [week, entry] of sums) {
    if (entry.beds >= LEAST_BEDS_SHARE * known) weeks.set(week, entry.sum / entry.beds)
  }
  return { weeks, seen: Array.from(sums.keys()), changes, leftOut: beds.length - known }
}

function mean(values: Float64Array): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length
}
