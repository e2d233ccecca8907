import type { DailySeries } from '../aggregate/daily-series.ts'
import { weeklyMedians } from '../aggregate/weekly-medians.ts'

/** Weekly values of several series side by side: one row a series, NaN where it has no value that week. */
export interface WeekTable {
  /** Whole weeks since the origin, ascending; only weeks in which at least one series has a value. */
  readonly step: Float64Array
  readonly rows: readonly Float64Array[]
}

export function weekTable(
  series: readonly DailySeries[],
  window: { readonly origin: number; readonly from: number; readonly to: number },
): WeekTable {
  const weekly = series.map((one) => weeklyMedians(one, window))
  const step = Float64Array.from(new Set(weekly.flatMap((one) => Array.from(one.step)))).sort()
  const column = new Map(Array.from(step, (week, i) => [week, i]))
  return {
    step,
    rows: weekly.map((one) => {
      const row = new Float64Array(step.length).fill(NaN)
      for (const [i, week] of one.step.entries()) row[column.get(week)!] = one.value[i]!
      return row
    }),
  }
}
