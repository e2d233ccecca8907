import { PLACED_BY } from './placed-by.ts'
import type { KeptReading } from './kept-reading.ts'
import type { IntakeRow } from './open-intake.ts'

/** A reading of the log that has got its place. */
export function keptOf(row: IntakeRow): KeptReading {
  return {
    boot: row.boot,
    seq: row.seq,
    t: row.t,
    at: row.at,
    uptimeS: row.uptime,
    placedBy: PLACED_BY[row.placedBy]!,
    arrivedAt: row.arrivedAt,
    deviceAt: Number.isNaN(row.deviceAt) ? null : row.deviceAt,
    flags: row.flags,
    values: row.channels.map((channel, i) => ({ channel, value: row.values[i]! })),
  }
}

/** A reading that another place has kept, as if it stood in the log. */
export function rowOfKept(probe: string, reading: KeptReading): IntakeRow {
  return {
    probe,
    boot: reading.boot,
    seq: reading.seq,
    uptime: reading.uptimeS,
    // One that had to give way to another of the same millisecond stands where it stands there.
    t: reading.t,
    at: reading.at,
    placedBy: PLACED_BY.indexOf(reading.placedBy),
    arrivedAt: reading.arrivedAt,
    deviceAt: reading.deviceAt ?? NaN,
    flags: reading.flags,
    channels: reading.values.map(({ channel }) => channel),
    values: reading.values.map(({ value }) => value),
  }
}

/** A reading as JSON, with everything that is known of it. */
export function textOf(row: IntakeRow): string {
  return JSON.stringify({
    probe: row.probe,
    boot: row.boot,
    seq: row.seq,
    uptimeS: row.uptime,
    at: row.at,
    placedBy: PLACED_BY[row.placedBy],
    arrivedAt: row.arrivedAt,
    deviceAt: Number.isNaN(row.deviceAt) ? null : row.deviceAt,
    flags: row.flags,
    values: Object.fromEntries(row.channels.map((channel, i) => [channel, row.values[i]])),
  })
}

/** Values by channel as pairs. */
export const pairsOf = ({ channels, values }: IntakeRow): (readonly [string, number])[] =>
  channels.map((channel, i) => [channel, values[i]!])
