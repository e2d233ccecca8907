import { DAY, HOUR } from '../../model/clock.ts'
import type { JournalEntry } from '../../model/journal.ts'
import type { CheckedHistory } from '../quality/flags.ts'
import { median } from '../stats/median.ts'

/** An electrode that was handled reads wrongly from shortly before the noted time ... */
const HANDLED_BEFORE_MS = 2 * HOUR
/** ... until its junction has settled. */
const HANDLED_AFTER_MS = 16 * HOUR
/** The level on each side of a handling is the median of this long. */
const SIDE_MS = DAY
/** The level before may be this old when the probe lay on the bench for a while. */
const BENCH_MS = 7 * DAY
const LEAST_HOURS = 3

/** Times at which the probe was calibrated or serviced while it sat here, ascending, epoch ms. */
export function handledTimes(
  history: CheckedHistory,
  journal: readonly JournalEntry[],
  at: number,
): number[] {
  const { feed } = history
  const times = [
    ...feed.calibrations.flatMap((c) => (c.kind === 'electrode' ? c.at : [])),
    ...journal.flatMap((e) => (e.kind === 'service' && e.probe === feed.probe ? e.at : [])),
  ]
  return times.filter((time) => time > feed.from && time <= at).toSorted((a, b) => a - b)
}

export function isHandled(time: number, handled: readonly number[]): boolean {
  return handled.some((h) => time > h - HANDLED_BEFORE_MS && time < h + HANDLED_AFTER_MS)
}

/** Counted pH values of one spot, ascending in time. */
export interface Level {
  readonly time: number[]
  readonly value: number[]
}

/**
 * The valid hours of a spot with every step that a handling made taken out: what lies before is moved to the
 * level after, so that a new calibration is not mistaken for a change of the soil. When the levels on both
 * sides are not known, what lies before is dropped.
 */
export function levelAcrossHandling(history: CheckedHistory, handled: readonly number[]): Level {
  const time: number[] = []
  const value: number[] = []
  for (let row = 0; row < history.time.length; row++) {
    if (history.flags[row] !== 0 || isHandled(history.time[row]!, handled)) continue
    time.push(history.time[row]!)
    value.push(history.ph[row]!)
  }
  let level: Level = { time, value }
  for (const h of handled) {
    const before = window(level, h - BENCH_MS, h - HANDLED_BEFORE_MS).slice(-SIDE_MS / HOUR)
    const after = window(level, h + HANDLED_AFTER_MS, h + HANDLED_AFTER_MS + SIDE_MS)
    const known = before.length >= LEAST_HOURS && after.length >= LEAST_HOURS
    const step = median(after) - median(before)
    level = known
      ? { time: level.time, value: level.value.map((v, i) => (level.time[i]! < h ? v + step : v)) }
      : since(level, h)
  }
  return level
}

function window(level: Level, from: number, to: number): number[] {
  return level.value.filter((_, i) => level.time[i]! >= from && level.time[i]! <= to)
}

function since(level: Level, from: number): Level {
  const first = level.time.findIndex((time) => time >= from)
  return first < 0
    ? { time: [], value: [] }
    : { time: level.time.slice(first), value: level.value.slice(first) }
}
