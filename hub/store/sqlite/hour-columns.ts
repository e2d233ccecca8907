import { DamagedContent, unpackedAt } from './damaged-content.ts'
import { createByteReader, createByteWriter } from './byte-stream.ts'
import { statsOf } from './roll-up.ts'
import { SEAL_BYTES, seal, unsealed } from './seal.ts'
import { readValues, writeValues } from './value-column.ts'
import type { Stats } from './roll-up.ts'

/** What stays of one channel of one UTC day whose readings are gone. */
export interface ChannelHours {
  readonly day: Stats
  /** 24; null: no reading of that hour held the channel. */
  readonly hours: readonly (Stats | null)[]
}

/** The channels of one such day, each read when it is asked for. */
export interface DayHours {
  /** Readings that are gone. */
  readonly readings: number
  readonly channels: readonly string[]
  of(channel: string): ChannelHours | null
}

const VERSION = 2
/** The same without a seal; files of layout 006 and before hold it. */
const BARE_VERSION = 1
const HOURS = 24
/** Decimal places that sums of sensor values have; beyond lies what adding binary fractions left. */
const PLACES = 1e4
const LEFT_OVER = 1e-9

const writer = createByteWriter()
const part = createByteWriter()
const toUtf8 = new TextEncoder()
const utf8 = new TextDecoder()

/** A sum of decimal fractions without what binary fractions added to it. */
function tidy(value: number): number {
  const near = Math.round(value * PLACES) / PLACES
  return Math.abs(near - value) <= LEFT_OVER * Math.max(1, Math.abs(value)) ? near : value
}

/** Low, median and high are kept exactly; a mean comes back within 1e-9 of its value. */
export function encodeHours(
  channels: ReadonlyMap<string, ChannelHours>,
  readings: number,
): Uint8Array<ArrayBuffer> {
  writer.cut(0)
  writer.uint(VERSION)
  writer.uint(readings)
  writer.uint(channels.size)
  for (const [channel, { day, hours }] of channels) {
    const name = toUtf8.encode(channel)
    const rows = [...hours.filter((one) => one !== null), day]
    part.cut(0)
    part.uint(hours.reduce((mask, one, hour) => (one === null ? mask : mask + 2 ** hour), 0))
    for (const { n } of rows) part.uint(n)
    for (const column of ['low', 'median', 'high'] as const) {
      writeValues(
        part,
        rows.map((row) => row[column]),
      )
    }
    // As sums: a mean of thirds has no short way to be written.
    writeValues(
      part,
      rows.map(({ n, mean }) => tidy(n * mean)),
    )
    const bytes = part.take()
    writer.uint(name.length)
    writer.bytes(name)
    writer.uint(bytes.length)
    writer.bytes(bytes)
  }
  writer.bytes(new Uint8Array(SEAL_BYTES))
  const sealed = writer.take()
  seal(sealed)
  return sealed
}

/**
 * @param row the block they lie with, for what is said of damage. @default nobody said
 * @throws DamagedContent when the bytes are not such a day
 */
export const openHours = (bytes: Uint8Array, row?: number): DayHours =>
  unpackedAt(row === undefined ? null : { table: 'hours', row }, () =>
    read(unsealed(bytes, 'the hours of a day'), VERSION),
  )

/** Hours that had no seal with one; null when they cannot be read as they are. */
export function sealedHours(bare: Uint8Array): Uint8Array<ArrayBuffer> | null {
  try {
    const hours = read(bare, BARE_VERSION)
    for (const channel of hours.channels) hours.of(channel)
  } catch (error) {
    if (error instanceof DamagedContent) return null
    throw error
  }
  const sealed = new Uint8Array(bare.length + SEAL_BYTES)
  sealed.set(bare)
  sealed[0] = VERSION
  seal(sealed)
  return sealed
}

function read(bytes: Uint8Array, expected: number): DayHours {
  const source = createByteReader(bytes)
  const version = source.uint()
  if (version !== expected) throw new DamagedContent(`hours of version ${version} are not known`)
  const readings = source.uint()
  const count = source.uint()
  const places = new Map<string, number>()
  for (let k = 0; k < count; k++) {
    const name = utf8.decode(source.bytes(source.uint()))
    const length = source.uint()
    places.set(name, source.position)
    source.skip(length)
  }
  if (source.position !== bytes.length) throw new DamagedContent('the hours of a day end elsewhere')
  return {
    readings,
    channels: [...places.keys()],
    of(channel) {
      const place = places.get(channel)
      return place === undefined ? null : readChannel(bytes, place)
    },
  }
}

function readChannel(bytes: Uint8Array, place: number): ChannelHours {
  const source = createByteReader(bytes, place)
  const mask = source.uint()
  const present = Array.from({ length: HOURS }, (_, hour) => hour).filter(
    (hour) => Math.floor(mask / 2 ** hour) % 2 === 1,
  )
  const length = present.length + 1
  const counts = Array.from({ length }, () => source.uint())
  const low = readValues(source, length)
  const median = readValues(source, length)
  const high = readValues(source, length)
  const sum = readValues(source, length)
  const row = (i: number): Stats => ({
    n: counts[i]!,
    low: low[i]!,
    mean: counts[i]! === 0 ? NaN : sum[i]! / counts[i]!,
    high: high[i]!,
    median: median[i]!,
  })
  const hours: (Stats | null)[] = Array.from({ length: HOURS }, () => null)
  for (const [i, hour] of present.entries()) hours[hour] = row(i)
  return { day: row(length - 1), hours }
}

/**
 * Statistics with values that came late. Counts, extremes and the mean are those of all of them; the median is that of
 * the late values and as many copies of the old median as there were values.
 */
export function withLate(kept: Stats | null, late: readonly number[]): Stats {
  const values = late.filter((value) => !Number.isNaN(value))
  const own = statsOf(Float64Array.from(values))
  if (kept === null || kept.n === 0) return own
  if (own.n === 0) return kept
  const n = kept.n + own.n
  return {
    n,
    low: Math.min(kept.low, own.low),
    mean: (kept.n * kept.mean + own.n * own.mean) / n,
    high: Math.max(kept.high, own.high),
    median: weighed(
      kept,
      values.toSorted((a, b) => a - b),
    ),
  }
}

function weighed({ n, median }: Stats, ascending: readonly number[]): number {
  const below = ascending.findIndex((value) => value >= median)
  const first = below < 0 ? ascending.length : below
  const at = (i: number): number =>
    i < first ? ascending[i]! : i < first + n ? median : ascending[i - n]!
  const all = n + ascending.length
  const half = all >> 1
  return all % 2 === 1 ? at(half) : (at(half - 1) + at(half)) / 2
}
