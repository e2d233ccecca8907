import { DAY, HOUR, MINUTE, SECOND } from '../../model/clock.ts'
import { STEP_MS, type Step } from '../../model/series.ts'
import type { SpotHistory } from '../measure/spot-history.ts'
import { median } from './median.ts'

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

function usualInterval(time: Float64Array): number {
  const intervals: number[] = []
  // A sample of the latest intervals is enough to know how often a probe reports.
  for (let i = Math.max(1, time.length - 200); i < time.length; i++) {
    intervals.push(time[i]! - time[i - 1]!)
  }
  return median(intervals)
}
