import type { DailySeries } from '../../analysis/aggregate/daily-series.ts'
import { mad } from '../../analysis/stats/mad.ts'
import { median } from '../../analysis/stats/median.ts'

/** Level of a bed over some days. */
export interface Level {
  /** Median, pH. */
  readonly value: number
  /** Standard error of what days alone make unsure, pH: what the spots have in common is not in it. */
  readonly se: number
  /** The same with how far the spots lie apart, pH. */
  readonly wholeSe: number
  readonly days: number
}

/** A median's standard error over that of a mean, for normal noise. */
const MEDIAN_OVER_MEAN = 1.2533
/** Days of one week say nearly the same: so many are worth one. */
const DAYS_PER_VOICE = 3

/** Median of the days in [from, to), the last `most` of them; null with fewer than `least`. */
export function levelBetween(
  { day, value, se }: DailySeries,
  from: number,
  to: number,
  { least, most = Infinity }: { readonly least: number; readonly most?: number },
): Level | null {
  const rows = Array.from(day.keys())
    .filter((i) => day[i]! >= from && day[i]! < to && Number.isFinite(value[i]!))
    .slice(-Math.min(most, day.length))
  if (rows.length < Math.max(1, least)) return null
  const values = rows.map((i) => value[i]!)
  const noise = values.length < 3 ? 0 : mad(values)
  const own = (MEDIAN_OVER_MEAN * noise) / Math.sqrt(Math.max(1, rows.length / DAYS_PER_VOICE))
  const common = median(rows.map((i) => se[i]!))
  return {
    value: median(values),
    se: own,
    wholeSe: Math.hypot(own, Number.isFinite(common) ? common : 0),
    days: rows.length,
  }
}
