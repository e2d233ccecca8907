import { DAY, HOUR, MINUTE, SECOND } from '../../model/clock.ts'
import { STEP_MS, type Step } from '../../model/series.ts'
import type { SpotHistory } from '../measure/spot-history.ts'

/** Buckets all spots of a bed share. */
export interface Grid {
  /** Epoch ms of the first bucket, a multiple of `stepMs`. */
  readonly start: number
  readonly stepMs: number
  readonly length: number
}

/** Widths raw readings are gathered in. */
const RAW_WIDTHS = [
  ...[10, 30].map((n) => n * SECOND),
  ...[1, 2, 5, 10, 15, 30].map((n) => n * MINUTE),
  ...[1, 2, 3, 6, 12].map((n) => n * HOUR),
]
/** A probe that reports less often than this does not coarsen the grid of the others. */
const SLOWEST = HOUR

/**
 * A grid over everything the spots have, with at most about `points` buckets. Rolled-up rows are merged in
 * whole numbers of their step; raw ones are gathered so widely that spots reporting at different seconds
 * meet in the same bucket.
 */
export function commonGrid(histories: readonly SpotHistory[], step: Step, points: number): Grid {
  let first = Infinity
  let last = -Infinity
  for (const { time } of histories) {
    if (time.length === 0) continue
    first = Math.min(first, time[0]!)
    last = Math.max(last, time.at(-1)!)
  }
  if (first > last) return { start: 0, stepMs: STEP_MS[step] || MINUTE, length: 0 }
  const least = Math.max(1, (last - first) / Math.max(1, points))
  const stepMs =
    step === 'raw' ? rawWidth(histories, least) : STEP_MS[step] * Math.ceil(least / STEP_MS[step])
  const start = Math.floor(first / stepMs) * stepMs
  return { start, stepMs, length: Math.floor((last - start) / stepMs) + 1 }
}

function rawWidth(histories: readonly SpotHistory[], least: number): number {
  const intervals = histories.map(({ time }) => Math.min(SLOWEST, usualInterval(time)))
  const needed = Math.max(least, ...intervals.filter((interval) => Number.isFinite(interval)))
  return RAW_WIDTHS.find((width) => width >= needed) ?? DAY * Math.ceil(needed / DAY)
}

/**
 * The interval in which the probe spent half of the time: one that went from a reading every quarter of an
 * hour to one every ten seconds an hour ago still reports every quarter of an hour for a chart of the day.
 */
function usualInterval(time: Float64Array): number {
  const all = Float64Array.from(
    { length: Math.max(0, time.length - 1) },
    (_, i) => time[i + 1]! - time[i]!,
  )
  // Longer ones are silences, unless the probe knows nothing else.
  const spoken = all.filter((interval) => interval <= SLOWEST)
  const intervals = (spoken.length > 0 ? spoken : all).sort()
  const half = intervals.reduce((sum, interval) => sum + interval, 0) / 2
  let passed = 0
  for (const interval of intervals) {
    passed += interval
    if (passed >= half) return interval
  }
  return NaN
}
