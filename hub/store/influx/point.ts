import { PLACED_BY } from '../sqlite/placed-by.ts'
import { channelOf, FAILED, fieldOf } from './names.ts'
import type { ChannelValue } from '../../model/reading.ts'
import type { KeptReading } from '../sqlite/kept-reading.ts'

/**
 * Measurements of the hub. `reading`: one point for each reading, tag `probe`, time = where the reading stands, one
 * float for each channel. `bounded`: the same for readings whose time is only bounded, so that nobody takes them for
 * a trend. `forwarded`: how far a data folder has sent its readings.
 */
export const MEASUREMENTS = ['reading', 'bounded'] as const
export type Measurement = (typeof MEASUREMENTS)[number]

/** Moments that InfluxDB can hold, epoch ms: 64 bits of nanoseconds. */
export const EARLIEST = -9_223_372_036_854
export const LATEST = 9_223_372_036_854

/**
 * The line of a reading. Everything is a float, since the first write fixes the type of a field; a sensor that was
 * tried and failed is a field of its own with 1 in it, for there is no NaN. With what begins with `_` a lost data
 * folder can be made again.
 */
export function lineOf(probe: string, reading: KeptReading): string {
  const { t, at, deviceAt, placedBy } = reading
  const fields: string[] = []
  for (const { channel, value } of reading.values) {
    fields.push(
      Number.isNaN(value) ? `${fieldOf(channel)}${FAILED}=1` : `${fieldOf(channel)}=${value}`,
    )
  }
  fields.push(
    `_boot=${reading.boot},_seq=${reading.seq},_uptime=${reading.uptimeS},_placed_by=${PLACED_BY.indexOf(placedBy)}`,
    `_arrived_at=${reading.arrivedAt},_flags=${reading.flags}`,
  )
  if (at !== t) fields.push(`_at=${at}`)
  if (deviceAt !== null) fields.push(`_device_at=${deviceAt}`)
  const measurement: Measurement = placedBy === 'bounded' ? 'bounded' : 'reading'
  return `${measurement},probe=${fieldOf(probe)} ${fields.join(',')} ${t}`
}

/** Whether the reading of a line takes part in series. */
export const isTimed = (line: string): boolean => line.startsWith('reading,')

/** Whose reading a line is. */
export const probeIn = (line: string): string =>
  channelOf(line.slice(line.indexOf('=') + 1, line.indexOf(' ')))

/** Which reading of its probe a line is: boot and number, as `nameOf` writes them. */
export const nameIn = (line: string): string => {
  const [, boot, seq] = /[ ,]_boot=(\d+),_seq=(\d+),/.exec(line)!
  return nameOf({ boot: Number(boot), seq: Number(seq) })
}
export const nameOf = ({ boot, seq }: Pick<KeptReading, 'boot' | 'seq'>): string => `${boot}/${seq}`

/** When the reading of a line is, epoch ms. */
export const momentOf = (line: string): number => Number(line.slice(line.lastIndexOf(' ') + 1))

/** The value of a channel in a line of `lineOf`: NaN when it failed, undefined when it is not in it. */
export function valueIn(line: string, channel: string): number | undefined {
  const field = fieldOf(channel)
  for (const pair of line.split(' ')[1]?.split(',') ?? []) {
    if (!pair.startsWith(field)) continue
    if (pair[field.length] === '=') return Number(pair.slice(field.length + 1))
    if (pair.startsWith(`${field}${FAILED}=`)) return NaN
  }
  return undefined
}

/** The reading behind a point; null when it is none of the hub's. */
export function readingOf(t: number, fields: ReadonlyMap<string, number>): KeptReading | null {
  const need = (name: string): number => fields.get(name) ?? NaN
  const placedBy = PLACED_BY[need('_placed_by')]
  const known = [need('_boot'), need('_seq'), need('_uptime'), need('_arrived_at')]
  if (placedBy === undefined || known.some((n) => Number.isNaN(n))) return null
  const values: ChannelValue[] = []
  for (const [field, value] of fields) {
    if (field.startsWith('_')) continue
    if (field.endsWith(FAILED)) {
      values.push({ channel: channelOf(field.slice(0, -FAILED.length)), value: NaN })
    } else values.push({ channel: channelOf(field), value })
  }
  return {
    boot: need('_boot'),
    seq: need('_seq'),
    t,
    at: fields.get('_at') ?? t,
    uptimeS: need('_uptime'),
    placedBy,
    arrivedAt: need('_arrived_at'),
    deviceAt: fields.get('_device_at') ?? null,
    flags: fields.get('_flags') ?? 0,
    values,
  }
}
