import { DAY } from '../../model/clock.ts'
import type { SpotFeed } from '../../model/feed.ts'
import type { Calibration, NewCalibration } from '../../model/probe.ts'
import { median, sortedFinite } from '../stats/median.ts'
import { type MoistureScale, type SpotHistory, spotHistory } from './spot-history.ts'
import { fixed, lasting } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** What a probe reads with the calibrations that are stored, and with one more. */
export interface CalibrationEffect {
  readonly quantity: 'ph' | 'moisture'
  /** What the two columns of figures are fractions of; null for pH. */
  readonly scaleNow: MoistureScale | null
  readonly scaleThen: MoistureScale | null
  /** Newest hour with a value, epoch ms; null without one. */
  readonly at: number | null
  readonly present: Reads
  /** Median, lowest and highest hour in twenty of the last 30 days, as if the new one had held all that time. */
  readonly middle: Reads
  readonly low: Reads
  readonly high: Reads
  /** Hours of these days that stored readings would change in, from its date on; the first of them, epoch ms. */
  readonly hoursChanged: number
  readonly changesFrom: number | null
  readonly sentence: string
}
/** NaN where nothing is known. */
interface Reads {
  readonly now: number
  readonly then: number
}

/**
 * The effect of a calibration before it is stored: what the newest hour and the last 30 days read now, what they would
 * read had it held all that time, and which hours its own date really changes.
 *
 * @param feed hours of the probe wherever it sat, with the calibrations that are stored
 * @param replaces id of the stored calibration it stands in for; null: it is a new one
 */
export function calibrationEffect(
  feed: SpotFeed,
  next: NewCalibration,
  replaces: number | null,
): CalibrationEffect {
  const own = feed.channels.filter(
    ({ channel }) =>
      channel.name === next.channel ||
      (next.kind === 'electrode' && channel.senses === 'temp.soil'),
  )
  const asked = { ...feed, channels: own }
  const stored: Calibration = { ...next, id: Number.MAX_SAFE_INTEGER }
  const kept = feed.calibrations.filter(({ id }) => id !== replaces)
  const now = spotHistory(asked, 'hour')
  const held = spotHistory({ ...asked, calibrations: [{ ...stored, at: -Infinity }] }, 'hour')
  const then = spotHistory({ ...asked, calibrations: [...kept, stored] }, 'hour')
  const quantity = next.kind === 'electrode' ? 'ph' : 'moisture'
  const column = (history: SpotHistory): Float64Array => history[quantity]

  const last = held.time.findLastIndex((_, row) => Number.isFinite(column(held)[row]))
  const begin = (held.time[last] ?? Infinity) - 30 * DAY
  const recent = (history: SpotHistory): Float64Array =>
    sortedFinite(column(history).filter((_, row) => history.time[row]! > begin))
  const quantile = (sorted: Float64Array, share: number): number =>
    sorted[Math.round(share * (sorted.length - 1))] ?? NaN
  const nowSorted = recent(now)
  const heldSorted = recent(held)
  const changed = Array.from(then.time.keys()).filter(
    (row) =>
      !Object.is(column(then)[row], column(now)[row]) &&
      !(Math.abs(column(then)[row]! - column(now)[row]!) < 1e-9),
  )
  const first = changed[0]
  const effect = {
    quantity,
    scaleNow: quantity === 'ph' ? null : now.moistureScale,
    scaleThen: quantity === 'ph' ? null : held.moistureScale,
    at: held.time[last] ?? null,
    present: { now: column(now)[last] ?? NaN, then: column(held)[last] ?? NaN },
    middle: { now: median(nowSorted), then: median(heldSorted) },
    low: { now: quantile(nowSorted, 0.05), then: quantile(heldSorted, 0.05) },
    high: { now: quantile(nowSorted, 0.95), then: quantile(heldSorted, 0.95) },
    hoursChanged: changed.length,
    changesFrom: first === undefined ? null : then.time[first]!,
  } as const
  return { ...effect, sentence: sentenceOf(effect, now, next, feed.to) }
}

function sentenceOf(
  { quantity, at, present, middle, hoursChanged }: Omit<CalibrationEffect, 'sentence'>,
  before: SpotHistory,
  next: NewCalibration,
  to: number,
): string {
  if (at === null)
    return say`This channel has sent nothing in the last 30 days: nothing changes yet.`
  const shown = (value: number, scale: MoistureScale | null): string =>
    Number.isNaN(value)
      ? say`nothing`
      : quantity === 'ph'
        ? say`pH ${fixed(value, 2)}`
        : scale === 'volume'
          ? say`${fixed(100 * value, 0)} % by volume`
          : say`${fixed(100 * value, 0)} % of its range`
  const now = quantity === 'ph' ? null : before.moistureScale
  const later =
    quantity === 'ph'
      ? null
      : next.kind === 'moisture' && (next.soilPoints ?? []).length > 1
        ? 'volume'
        : 'probe range'
  const reads = (of: Reads): string =>
    say`${shown(of.then, later)} instead of ${shown(of.now, now)}`
  const days = say`the newest hour would read ${reads(present)}, the middle of the last 30 days ${reads(middle)}`
  const dated =
    hoursChanged === 0
      ? say`By the date it has it changes nothing that is stored, only what comes.`
      : hoursChanged === 1
        ? say`By the date it has it changes ${hoursChanged} stored hour, the last ${lasting(to - next.at)}; what was read before keeps its own.`
        : say`By the date it has it changes ${hoursChanged} stored hours, the last ${lasting(to - next.at)}; what was read before keeps its own.`
  return say`Held against it, ${days}. ${dated}`
}
