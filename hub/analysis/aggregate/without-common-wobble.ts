import { median } from '../stats/median.ts'
import type { DailySeries } from './daily-series.ts'

/** A bed with what it shares with the others taken out. */
export interface WithoutWobble {
  readonly series: DailySeries
  /** Share of the bed's day-to-day variance that went with it, 0 when nothing was taken. */
  readonly took: number
  /** Index of the other beds it was drawn from. */
  readonly from: readonly number[]
}

/** The slow course of a bed is the median of so many days on either side; what is left is its wobble. */
const SIDE_DAYS = 15
/** Days in common before anything is taken. */
const LEAST_DAYS = 60
/** Others that must agree; one alone must move with this bed closely, or its own troubles would be taken for shared. */
const LEAST_BEDS = 2
const LONE_CORRELATION = 0.6
/** Below this correlation another bed says nothing of this one, and nor do all together. */
const LEAST_CORRELATION = 0.3
/** The share that is taken is drawn towards none as by so many days without it. */
const PRIOR_DAYS = 30

/**
 * Takes the day-to-day wobble a bed shares with others (weather, water, warmth) out of it, so that trend and outlook
 * rest on what is its own. The shared part is the median of the others' wobbles; it is taken with the
 * regression coefficient of this bed on it, drawn towards none and never above one. Where others do not help, the bed
 * comes back as it is.
 */
export function withoutCommonWobble(
  bed: DailySeries,
  others: readonly DailySeries[],
): WithoutWobble {
  const own = wobble(bed)
  const theirs = others.flatMap((other, index) => {
    const moves = wobble(other)
    const { correlation, days } = likeness(own, moves)
    return days >= LEAST_DAYS && correlation >= LEAST_CORRELATION
      ? { index, moves, correlation }
      : []
  })
  const nothing: WithoutWobble = { series: bed, took: 0, from: [] }
  if (theirs.length < LEAST_BEDS && !theirs.some((t) => t.correlation >= LONE_CORRELATION)) {
    return nothing
  }
  const least = Math.min(LEAST_BEDS, theirs.length)
  const common = new Map<number, number>()
  for (const day of own.keys()) {
    const values = theirs.flatMap(({ moves }) => moves.get(day) ?? [])
    if (values.length >= least) common.set(day, median(values))
  }
  if (common.size < LEAST_DAYS) return nothing
  const { xx, xy, yy, correlation, days: n } = likeness(own, common)
  if (!(correlation >= LEAST_CORRELATION)) return nothing
  const share = Math.min(1, ((xy / xx) * n) / (n + PRIOR_DAYS))
  return {
    series: {
      ...bed,
      value: bed.value.map((value, i) => value - share * (common.get(bed.day[i]!) ?? 0)),
    },
    took: (2 * share * xy - share * share * xx) / yy,
    from: theirs.map(({ index }) => index),
  }
}

/** Sums of squares and products of two wobbles on the days both have. */
function likeness(
  y: ReadonlyMap<number, number>,
  x: ReadonlyMap<number, number>,
): { xx: number; xy: number; yy: number; correlation: number; days: number } {
  let xx = 0
  let xy = 0
  let yy = 0
  let days = 0
  for (const [day, b] of x) {
    const a = y.get(day)
    if (a === undefined) continue
    days++
    xx += b * b
    xy += a * b
    yy += a * a
  }
  return { xx, xy, yy, correlation: xx * yy > 0 ? xy / Math.sqrt(xx * yy) : 0, days }
}

/** Deviation of each day from the median of the days around it. */
function wobble({ day, value }: DailySeries): Map<number, number> {
  const out = new Map<number, number>()
  for (const [i, at] of day.entries()) {
    const first = Math.max(0, i - SIDE_DAYS)
    out.set(at, value[i]! - median(value.subarray(first, i + SIDE_DAYS + 1)))
  }
  return out
}
