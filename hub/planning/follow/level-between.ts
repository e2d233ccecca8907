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
  /** Middle of the days, epoch ms. */
  readonly at: number
}

/** From day to day a bed and its electrodes wander slowly: after so many days 1/e of it is left; judgement. */
const WANDER_DAYS = 10
const KEEP = Math.exp(-1 / WANDER_DAYS)
/** Usual scatter of days within a fortnight, pH, and how many days it weighs like; judgement. */
const USUAL = { sd: 0.035, days: 14 } as const

/**
 * Median of the days in [from, to), the last `most` of them; null with fewer than `least`. Neighbouring days say nearly
 * the same, so its standard error hardly falls with their number.
 */
export function levelBetween(
  { day, value, se }: DailySeries,
  from: number,
  to: number,
  { least, most = Infinity }: { readonly least: number; readonly most?: number },
): Level | null {
  const rows = Array.from(day.keys())
    .filter((i) => day[i]! >= from && day[i]! < to && Number.isFinite(value[i]!))
    .slice(-Math.min(most, day.length))
  const n = rows.length
  if (n < Math.max(1, least)) return null
  const values = rows.map((i) => value[i]!)
  const scatter = n < 3 ? 0 : mad(values) ** 2
  const within = (n * scatter + USUAL.days * USUAL.sd ** 2) / (n + USUAL.days)
  const shared = sharedBy(n)
  // Slow wander moves all days together: what is seen within them is only the rest of it.
  const own = Math.sqrt((within * shared) / (1 - Math.min(shared, MOST_SHARED)))
  const common = median(rows.map((i) => se[i]!))
  return {
    value: median(values),
    se: own,
    wholeSe: Math.hypot(own, Number.isFinite(common) ? common : 0),
    days: n,
    at: (day[rows[0]!]! + day[rows.at(-1)!]!) / 2,
  }
}

/** A day or two show next to nothing of how far a bed wanders. */
const MOST_SHARED = 0.9

/** Variance of the mean of `n` days in a row over that of one day, for noise of the first order. */
function sharedBy(n: number): number {
  const ends = (2 * KEEP * (1 - KEEP ** n)) / (n * (1 - KEEP) ** 2)
  return ((1 + KEEP) / (1 - KEEP) - ends) / n
}
