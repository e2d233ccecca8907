import { DAY } from '../../model/clock.ts'
import { median } from '../stats/median.ts'
import type { DailySeries } from './daily-series.ts'

const WEEK = 7 * DAY
/** Days a week needs. */
const LEAST_DAYS = 3

/** Weekly medians of a daily series; weeks count from the first of January 1970, a Thursday, in UTC. */
export interface Weekly {
  /** Whole number of the week, ascending, and its middle, epoch ms. */
  readonly week: Float64Array
  readonly time: Float64Array
  readonly value: Float64Array
}

export function weekly({ day, value }: DailySeries): Weekly {
  const out = { week: [] as number[], time: [] as number[], value: [] as number[] }
  let from = 0
  while (from < day.length) {
    const week = Math.floor(day[from]! / WEEK)
    let to = from
    while (to < day.length && Math.floor(day[to]! / WEEK) === week) to++
    if (to - from >= LEAST_DAYS) {
      out.week.push(week)
      out.time.push((week + 0.5) * WEEK)
      out.value.push(median(value.subarray(from, to)))
    }
    from = to
  }
  return {
    week: Float64Array.from(out.week),
    time: Float64Array.from(out.time),
    value: Float64Array.from(out.value),
  }
}
