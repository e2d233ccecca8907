import { DAY, HOUR } from '../../model/clock.ts'
import { encodeBlock } from './block.ts'
import { encodeHours } from './hour-columns.ts'
import { BOUNDED } from './placed-by.ts'
import { dayStats, inSeries, startOf, statsOf } from './roll-up.ts'
import { ABSENT } from './value-column.ts'
import type { Block } from './block.ts'
import type { ChannelHours } from './hour-columns.ts'
import type { Stats } from './roll-up.ts'

/** A part of a UTC day: the readings from `start` on and before `end`, epoch ms. */
export interface DayPart {
  readonly start: number
  readonly end: number
  readonly block: Block
}

export interface ThinnedDay {
  /** What stands for the values of all parts. */
  readonly hours: Uint8Array<ArrayBuffer>
  /** Of each part, without values: what its readings are called. */
  readonly bodies: readonly Uint8Array<ArrayBuffer>[]
  /** Readings whose values are gone. */
  readonly readings: number
  readonly values: number
  /** Hours of channels that came in their place. */
  readonly rows: number
}

/**
 * A day of a probe with no more readings, or with blocks of no more bytes, stays whole: ten readings an hour take about
 * what their hours would (measured with four channels: 240 readings 1.9 kB, their hours and names 1.2 kB).
 */
export const LEAST_READINGS = 240
export const LEAST_BYTES = 1200

/** One UTC day of a probe without its values. Readings whose time is only bounded are in no hour and keep theirs. */
export function thinnedDay(parts: readonly DayPart[]): ThinnedDay {
  const names = new Set(parts.flatMap(({ block }) => [...block.values.keys()]))
  const channels = new Map<string, ChannelHours>()
  let values = 0
  let rows = 0
  for (const channel of names) {
    const columns = parts.map(({ block }) => ({
      columns: block,
      values: block.values.get(channel) ?? null,
    }))
    const day = dayStats(columns)
    if (day === null) continue
    const hours = hoursOf(columns)
    channels.set(channel, { day, hours })
    values += day.n
    rows += hours.filter((one) => one !== null).length
  }
  const readings = parts.reduce(
    (sum, { block }) => sum + block.placedBy.filter((by) => by !== BOUNDED).length,
    0,
  )
  return {
    hours: encodeHours(channels, readings),
    bodies: parts.map((part) => encodeBlock(nameless(part))),
    readings,
    values,
    rows,
  }
}

function hoursOf(
  parts: readonly { readonly columns: Block; readonly values: readonly number[] | null }[],
): (Stats | null)[] {
  const held: (number[] | null)[] = Array.from({ length: DAY / HOUR }, () => null)
  for (const { columns, values } of parts) {
    if (values === null) continue
    for (let i = 0; i < values.length; i++) {
      if (!inSeries(columns, values, i)) continue
      const t = columns.t[i]!
      const hour = (startOf(t, HOUR) - startOf(t, DAY)) / HOUR
      const own = (held[hour] ??= [])
      if (!Number.isNaN(values[i]!)) own.push(values[i]!)
    }
  }
  return held.map((own) => (own === null ? null : statsOf(Float64Array.from(own))))
}

/** The same readings without values, and with moments that cost nothing where their uptimes go evenly. */
function nameless({ start, end, block }: DayPart): Block {
  const values = new Map<string, number[]>()
  for (const [channel, column] of block.values) {
    const kept = column.map((value, i) => (block.placedBy[i] === BOUNDED ? value : ABSENT))
    if (kept.some((value) => value !== ABSENT)) values.set(channel, kept)
  }
  if (block.placedBy.includes(BOUNDED)) return { ...block, values }
  const t = evenMoments(start, end, block)
  return {
    ...block,
    t,
    at: t,
    arrivedAt: t,
    deviceAt: t.map(() => NaN),
    flags: t.map(() => 0),
    values,
  }
}

/** Moments by uptime within each boot, ascending, each once, within the part. */
function evenMoments(start: number, end: number, { t, boot, uptime }: Block): number[] {
  const moments: number[] = []
  let origin = 0
  for (let i = 0; i < t.length; i++) {
    if (i === 0 || boot[i] !== boot[i - 1] || uptime[i]! < uptime[i - 1]!) {
      origin = t[i]! - Math.round(uptime[i]! * 1000)
    }
    const wanted = origin + Math.round(uptime[i]! * 1000)
    const least = i === 0 ? start : moments[i - 1]! + 1
    moments.push(Math.max(least, Math.min(wanted, end - (t.length - i))))
  }
  return moments
}
