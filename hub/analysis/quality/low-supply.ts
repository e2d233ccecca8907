import type { SpotHistory } from '../measure/spot-history.ts'
import { median, sortedFinite } from '../stats/median.ts'
import { QARTOD, flagColumn } from './qartod.ts'
import { WIRE } from './wire-flags.ts'

/** Per cent left at which a battery is told as low. */
const LOW_PERCENT = 10
/**
 * A voltage so far below its usual best is low: what cells a probe runs on is not known. 0.85 of a full lithium cell
 * (4.15 V) is 3.5 V, of three alkaline cells (4.5 V) 3.8 V (common practice, no source).
 */
const LOW_SHARE = 0.85
const BEST_QUANTILE = 0.9
/**
 * Days so far above those before them have a new or a charged battery; one that rests or gets warm recovers by some
 * per cent (common practice, no source).
 */
const NEW_FROM = 1.08
/** So many days on either side: one cold day is no empty battery, and the day after it no new one. */
const SIDE_DAYS = 3

/**
 * Suspect where the supply was low: a sagging reference pulls every value. Told by the probe itself, or seen in its
 * supply channel; not evaluated when there is neither.
 */
export function lowSupply(
  { time, ph, feed }: Pick<SpotHistory, 'time' | 'ph' | 'feed'>,
  wire: Uint8Array | null,
): Uint8Array {
  const supply = feed.channels.find(
    ({ channel, buckets }) => channel.senses === 'bat' && buckets.time.length > 0,
  )
  if (supply === undefined && wire === null) return flagColumn(ph, QARTOD.notEvaluated)
  const flags = flagColumn(ph, QARTOD.pass)
  const { channel, buckets } = supply ?? { channel: null, buckets: null }
  const limit = buckets === null ? NaN : lowBelow(channel?.unit ?? '', buckets.median)
  const order = buckets === null ? [] : ascending(buckets.time)
  let next = 0
  let level = NaN
  for (let row = 0; row < flags.length; row++) {
    while (next < order.length && buckets!.time[order[next]!]! <= time[row]!) {
      level = buckets!.median[order[next++]!]!
    }
    const told = wire !== null && (wire[row]! & WIRE.supplyLow) !== 0
    if (flags[row] !== QARTOD.missing && (told || level < limit)) flags[row] = QARTOD.suspect
  }
  return flags
}

/** Level below which a supply is low, same unit; NaN where a voltage has no history to tell it from. */
export function lowBelow(unit: string, levels: Iterable<number>): number {
  if (unit.startsWith('%')) return LOW_PERCENT
  const sorted = sortedFinite(levels)
  return LOW_SHARE * (sorted[Math.floor(BEST_QUANTILE * sorted.length)] ?? NaN)
}

/**
 * The levels since a battery was last changed or charged. What an earlier one had says nothing of this one: other
 * cells have other voltages.
 *
 * @param days medians of days, ascending in time; NaN: none
 */
export function sinceNewBattery(days: Iterable<number>): readonly number[] {
  const levels = Array.from(days).filter(Number.isFinite)
  for (let first = levels.length - 1; first > 0; first--) {
    const before = median(levels.slice(Math.max(0, first - SIDE_DAYS), first))
    const after = median(levels.slice(first, first + SIDE_DAYS))
    if (after >= NEW_FROM * before) return levels.slice(first)
  }
  return levels
}

function ascending(time: Float64Array): Uint32Array {
  const order = new Uint32Array(time.length)
  let isAscending = true
  for (let row = 0; row < order.length; row++) {
    order[row] = row
    if (time[row]! < (time[row - 1] ?? -Infinity)) isAscending = false
  }
  return isAscending ? order : order.sort((a, b) => time[a]! - time[b]!)
}
