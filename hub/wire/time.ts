import { HOUR, MINUTE, SECOND } from '../model/clock.ts'
import type { PlacedBy } from '../model/reading.ts'

/** A moment of one boot at which uptime and the hub's clock were both known. */
export interface BootAnchor {
  readonly uptimeS: number
  /** Epoch ms. */
  readonly at: number
}

/** When something was measured, and how that is known. */
export interface Placement {
  /** Epoch ms. */
  readonly at: number
  readonly placedBy: PlacedBy
}

/** A probe's clock may run this much fast or slow; anything beyond is not a clock rate. */
export const RATE_TOLERANCE = 0.1
/** A probe's own time is believed when it is no further than this from what the hub knows. */
export const DEVICE_TOLERANCE_MS = 5 * MINUTE
/** A reading counts as delayed from here on, or from 10 % of the time since the last anchor. */
export const DELAY_TOLERANCE_MS = 2 * MINUTE
/** One anchor in this time is kept for ever. */
export const ANCHOR_SPACING_MS = HOUR
/** A rate from anchors closer than this would be mostly jitter of the network. */
const RATE_SPAN_MS = HOUR

/** Whether a new anchor is worth keeping beside those already kept (ascending). */
export function isWorthKeeping(kept: readonly BootAnchor[], next: BootAnchor): boolean {
  const last = kept.at(-1)
  return last === undefined || next.uptimeS * SECOND - last.uptimeS * SECOND >= ANCHOR_SPACING_MS
}

/**
 * Epoch ms of a moment of one boot, from that boot's anchors (ascending in uptime): interpolated between
 * two of them, so that a clock running 5 % slow does no harm; outside them by the rate of the whole boot,
 * held within 10 %. Null without an anchor.
 */
export function placeByAnchors(anchors: readonly BootAnchor[], uptimeS: number): number | null {
  const first = anchors[0]
  const last = anchors.at(-1)
  if (first === undefined || last === undefined) return null
  if (uptimeS <= first.uptimeS) return first.at - (first.uptimeS - uptimeS) * wholeRate(first, last)
  if (uptimeS >= last.uptimeS) return last.at + (uptimeS - last.uptimeS) * wholeRate(first, last)
  let low = 0
  let high = anchors.length - 1
  while (high - low > 1) {
    const middle = (low + high) >> 1
    if ((anchors[middle]?.uptimeS ?? Infinity) <= uptimeS) low = middle
    else high = middle
  }
  const before = anchors[low] ?? first
  const after = anchors[high] ?? last
  const part = (uptimeS - before.uptimeS) / (after.uptimeS - before.uptimeS)
  return before.at + part * (after.at - before.at)
}

/** Hub milliseconds for one second of the probe's uptime, over the whole boot. */
function wholeRate(first: BootAnchor, last: BootAnchor): number {
  const spanMs = (last.uptimeS - first.uptimeS) * SECOND
  if (spanMs < RATE_SPAN_MS) return SECOND
  const rate = (last.at - first.at) / spanMs
  return SECOND * Math.min(1 + RATE_TOLERANCE, Math.max(1 - RATE_TOLERANCE, rate))
}

/** A reading sent when it was measured, as far as the probe is concerned. */
export interface LiveReading {
  readonly uptimeS: number
  readonly arrivedAt: number
  /** The probe's own time, epoch ms, or null. */
  readonly deviceAt: number | null
  /** Something between probe and hub may have held it back. */
  readonly mayBeDelayed: boolean
}

/** `isAnchor`: its arrival tells what the hub's clock was at its uptime. */
export function placeLive(
  anchors: readonly BootAnchor[],
  reading: LiveReading,
): Placement & { readonly isAnchor: boolean } {
  const { arrivedAt, deviceAt } = reading
  if (reading.mayBeDelayed) {
    const predicted = placeByAnchors(anchors, reading.uptimeS)
    if (predicted === null) {
      // Nothing to hold it against: it was measured at some time before it came.
      const at = deviceAt !== null && deviceAt <= arrivedAt ? deviceAt : arrivedAt
      return { at, placedBy: 'bounded', isAnchor: false }
    }
    if (arrivedAt - predicted > tolerance(anchors, reading.uptimeS)) {
      const believed = deviceAt !== null && Math.abs(deviceAt - predicted) <= DEVICE_TOLERANCE_MS
      return believed
        ? { at: deviceAt, placedBy: 'device', isAnchor: false }
        : { at: predicted, placedBy: 'anchors', isAnchor: false }
    }
  }
  const believed = deviceAt !== null && Math.abs(deviceAt - arrivedAt) <= DEVICE_TOLERANCE_MS
  return believed
    ? { at: deviceAt, placedBy: 'device', isAnchor: true }
    : { at: arrivedAt, placedBy: 'arrival', isAnchor: true }
}

/** How far arrival may lie behind the prediction before it cannot be the probe's clock rate any more, ms. */
function tolerance(anchors: readonly BootAnchor[], uptimeS: number): number {
  const last = anchors.at(-1)
  const sinceMs = last === undefined ? 0 : Math.abs(uptimeS - last.uptimeS) * SECOND
  return Math.max(DELAY_TOLERANCE_MS, RATE_TOLERANCE * sinceMs)
}

/** A row of a batch: measured some time before the batch was sent. */
export interface LateRow {
  readonly uptimeS: number
  /** Arrival of the batch, epoch ms; no row is later. */
  readonly arrivedAt: number
  /** For a boot without any anchor: the latest moment this row can have been measured, epoch ms. */
  readonly latestAt: number
}

/** Places a row by its boot's anchors; without any it is only bounded. */
export function placeLate(anchors: readonly BootAnchor[], row: LateRow): Placement {
  const at = placeByAnchors(anchors, row.uptimeS)
  return at === null
    ? { at: Math.min(row.latestAt, row.arrivedAt), placedBy: 'bounded' }
    : { at: Math.min(at, row.arrivedAt), placedBy: 'anchors' }
}
