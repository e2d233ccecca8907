import type { BedFeeds } from '../../model/feed.ts'
import type { Quantity } from '../../model/quantity.ts'
import type { BedHistory } from '../assessment.ts'
import { spotHistory } from '../measure/spot-history.ts'
import { type CheckedHistory, checkHistory } from '../quality/flags.ts'
import { gather } from './gather.ts'
import { commonGrid } from './grid.ts'
import { commonMoistureScale } from './moisture-scale.ts'
import { type Spread, robustMean } from './robust-mean.ts'
import { spotOffsets } from './spot-offsets.ts'
import { SPREAD, phSpread } from './spread.ts'

/**
 * A bed's past: the robust combination of its spots in each bucket with its 95 % interval, and every spot.
 * About `points` buckets: rolled-up rows are merged in whole steps, raw readings gathered on a grid.
 */
export function bedHistory(
  feeds: BedFeeds,
  quantity: Quantity,
  options: { readonly points: number },
): BedHistory {
  const histories = feeds.feeds.map((feed) =>
    checkHistory(spotHistory(feed, feeds.step), feeds.bed.texture),
  )
  const scale = quantity === 'moisture' ? commonMoistureScale(histories) : null
  const grid = commonGrid(histories, feeds.step, options.points)
  const spots = histories.map((history) => {
    const gathered = gather(history, quantity, grid)
    // Another moisture scale cannot be averaged with the rest; its values stay visible but do not count.
    if (scale !== null && history.moistureScale !== scale) gathered.leftOut.fill(1)
    return gathered
  })
  const voices = voicesOf(histories)
  const combined = voices.map((members) =>
    mergeVoice(
      members.map((i) => spots[i]!),
      grid.length,
    ),
  )
  const offsets = spotOffsets(combined, grid.stepMs)

  const column = (): Float64Array => new Float64Array(grid.length).fill(NaN)
  const time = Float64Array.from({ length: grid.length }, (_, i) => grid.start + i * grid.stepMs)
  const out = { value: column(), low: column(), high: column(), min: column(), max: column() }
  const spread = quantity === 'ph' ? latestSpread(histories) : SPREAD[quantity]
  const values: number[] = []
  for (let cell = 0; cell < grid.length; cell++) {
    values.length = 0
    for (const [voice, own] of combined.entries()) {
      const value = own[cell]!
      if (!Number.isNaN(value)) values.push(value - offsets[voice]!)
    }
    if (values.length === 0) continue
    const { value, halfWidth } = robustMean(values, spread)
    out.value[cell] = value
    out.low[cell] = value - halfWidth
    out.high[cell] = value + halfWidth
    for (const spot of spots) {
      if (spot.leftOut[cell] === 1) continue
      if (!(out.min[cell]! <= spot.min[cell]!) && !Number.isNaN(spot.min[cell])) {
        out.min[cell] = spot.min[cell]!
      }
      if (!(out.max[cell]! >= spot.max[cell]!) && !Number.isNaN(spot.max[cell])) {
        out.max[cell] = spot.max[cell]!
      }
    }
  }
  return {
    stepMs: grid.stepMs,
    time,
    ...out,
    spots: histories.map(({ feed }, i) => ({
      spotId: feed.spot.id,
      spot: feed.spot.name,
      probe: feed.probe,
      value: spots[i]!.value,
      leftOut: spots[i]!.leftOut,
    })),
  }
}

/** Indexes of the feeds of each spot: probes in one spot, at once or one after the other, are one voice. */
function voicesOf(histories: readonly CheckedHistory[]): number[][] {
  const voices = new Map<number, number[]>()
  for (const [i, { feed }] of histories.entries()) {
    const members = voices.get(feed.spot.id)
    if (members === undefined) voices.set(feed.spot.id, [i])
    else members.push(i)
  }
  return Array.from(voices.values())
}

/** The mean of what counts, bucket by bucket. */
function mergeVoice(
  members: readonly { readonly value: Float64Array; readonly leftOut: Uint8Array }[],
  length: number,
): Float64Array {
  const out = new Float64Array(length).fill(NaN)
  for (let cell = 0; cell < length; cell++) {
    let sum = 0
    let n = 0
    for (const { value, leftOut } of members) {
      if (leftOut[cell] === 1 || Number.isNaN(value[cell])) continue
      sum += value[cell]!
      n++
    }
    if (n > 0) out[cell] = sum / n
  }
  return out
}

/** Prior of the interval, judged by the latest row of each spot. */
function latestSpread(histories: readonly CheckedHistory[]): Spread {
  return phSpread(
    histories.flatMap((history) => {
      const last = history.time.length - 1
      if (last < 0 || !history.hasPhChannel) return []
      return {
        calibrationAgeMs: history.time[last]! - history.calibratedAt[last]!,
        uncalibrated: history.uncalibrated[last] === 1,
        moistureUnknown: history.moistureScale === 'unknown',
      }
    }),
  )
}
