import { DAY } from '../../model/clock.ts'
import type { DailySeries } from './daily-series.ts'
import { median } from '../stats/median.ts'

/** One value a week, columns of equal length, ascending; weeks without enough days are left out. */
export interface WeeklySeries {
  /** Whole weeks since `origin`, negative before. */
  readonly step: Float64Array
  /** Middle of the week, epoch ms. */
  readonly time: Float64Array
  readonly value: Float64Array
  /** Start of week 0, epoch ms. */
  readonly origin: number
}

export const WEEK = 7 * DAY
const LEAST_DAYS = 3

/**
 * Weekly medians of the days in [from, to), all days when left out; a week needs three days. Weeks are counted from
 * the UTC day of `origin` (1 January 1970 when left out), so that none of them mixes days before and after a dose.
 */
export function weeklyMedians(
  series: DailySeries,
  options: { readonly origin?: number; readonly from?: number; readonly to?: number } = {},
): WeeklySeries {
  const { origin = 0, from = -Infinity, to = Infinity } = options
  const start = Math.floor(origin / DAY) * DAY
  const weeks = new Map<number, number[]>()
  for (const [i, day] of series.day.entries()) {
    const value = series.value[i]!
    if (day < from || day >= to || !Number.isFinite(value)) continue
    const week = Math.floor((day - start) / WEEK)
    const days = weeks.get(week)
    if (days === undefined) weeks.set(week, [value])
    else days.push(value)
  }
  const kept = Array.from(weeks)
    .filter(([, values]) => values.length >= LEAST_DAYS)
    .toSorted(([a], [b]) => a - b)
  const step = Float64Array.from(kept, ([week]) => week)
  return {
    step,
    time: step.map((week) => start + (week + 0.5) * WEEK),
    value: Float64Array.from(kept, ([, values]) => median(values)),
    origin: start,
  }
}

/** Treated minus untreated on the days both have. What moves both (weather, season) drops out. */
export function dailyDifference(treated: DailySeries, untreated: DailySeries): DailySeries {
  const other = new Map(Array.from(untreated.day, (day, i) => [day, i]))
  const day: number[] = []
  const value: number[] = []
  const se: number[] = []
  for (const [i, one] of treated.day.entries()) {
    const j = other.get(one)
    if (j === undefined) continue
    day.push(one)
    value.push(treated.value[i]! - untreated.value[j]!)
    se.push(Math.hypot(treated.se[i]!, untreated.se[j]!))
  }
  return {
    day: Float64Array.from(day),
    value: Float64Array.from(value),
    se: Float64Array.from(se),
  }
}

/** Mean of several beds on the days that all of them have. */
export function dailyMean(beds: readonly DailySeries[]): DailySeries {
  const [first, ...rest] = beds
  if (first === undefined) throw new Error('a mean needs at least one bed')
  const indices = rest.map((bed) => new Map(Array.from(bed.day, (day, i) => [day, i])))
  const day: number[] = []
  const value: number[] = []
  const se: number[] = []
  for (const [i, one] of first.day.entries()) {
    const at = indices.map((index) => index.get(one))
    if (at.includes(undefined)) continue
    let sum = first.value[i]!
    let square = first.se[i]! ** 2
    for (const [b, j] of at.entries()) {
      sum += rest[b]!.value[j!]!
      square += rest[b]!.se[j!]! ** 2
    }
    day.push(one)
    value.push(sum / beds.length)
    se.push(Math.sqrt(square) / beds.length)
  }
  return {
    day: Float64Array.from(day),
    value: Float64Array.from(value),
    se: Float64Array.from(se),
  }
}
