import { DamagedContent, unpackedAt } from './damaged-content.ts'
import { createByteReader, createByteWriter } from './byte-stream.ts'
import { readColumn, writeColumn } from './number-column.ts'
import { SEAL_BYTES, seal, unsealed } from './seal.ts'
import type { Guess } from './number-column.ts'
import { ABSENT, readValues, writeValues } from './value-column.ts'
import type { Place } from './damaged-content.ts'

/** Columns of the readings of one probe within one UTC day, or a part of it; ascending in `t`. */
export interface Block {
  /** Epoch ms, whole; no two readings of a probe have the same. */
  readonly t: number[]
  /** The time as given, `t` unless that was taken or had a fraction. */
  readonly at: number[]
  readonly boot: number[]
  readonly seq: number[]
  readonly uptime: number[]
  /** Position in `PLACED_BY`. */
  readonly placedBy: number[]
  readonly arrivedAt: number[]
  /** NaN: none was sent. */
  readonly deviceAt: number[]
  readonly flags: number[]
  /** By channel; ABSENT where the reading did not hold it, NaN where the sensor failed. */
  readonly values: Map<string, number[]>
}

/** One reading as a block holds it; `values` by channel. */
export interface BlockRow {
  readonly t: number
  readonly at: number
  readonly boot: number
  readonly seq: number
  readonly uptime: number
  readonly placedBy: number
  readonly arrivedAt: number
  readonly deviceAt: number
  readonly flags: number
}

/** What charts and roll-ups need of a block, read without the rest. */
export interface BlockSeries {
  readonly t: readonly number[]
  readonly placedBy: readonly number[]
  readonly channels: readonly string[]
  /** Null when no reading of the block held this channel. */
  readonly values: (channel: string) => readonly number[] | null
}

const VERSION = 1

const steady: Guess = (column, i) =>
  i > 1 ? 2 * column[i - 1]! - column[i - 2]! : i === 1 ? column[0]! : 0
const same: Guess = (column, i) => (i > 0 ? column[i - 1]! : 0)
const next: Guess = (column, i) => (i > 0 ? column[i - 1]! + 1 : 0)
const like =
  (other: readonly number[]): Guess =>
  (_, i) =>
    other[i]!
/** Seconds that go with the milliseconds of `t`. */
const seconds =
  (t: readonly number[]): Guess =>
  (column, i) =>
    i > 0 ? column[i - 1]! + Math.round((t[i]! - t[i - 1]!) / 1000) : 0

/** Zeros, however many, are as guessed. */
const NONE_TOLD: readonly number[] = []

const writer = createByteWriter()
const part = createByteWriter()
const utf8 = new TextDecoder()
const toUtf8 = new TextEncoder()

export function emptyBlock(): Block {
  return {
    t: [],
    at: [],
    boot: [],
    seq: [],
    uptime: [],
    placedBy: [],
    arrivedAt: [],
    deviceAt: [],
    flags: [],
    values: new Map(),
  }
}

export function encodeBlock(block: Block): Uint8Array<ArrayBuffer> {
  const { t, values } = block
  const n = t.length
  writer.cut(0)
  writer.uint(VERSION)
  writer.uint(n)
  writer.uint(values.size)
  writeColumn(writer, t, steady)
  writeColumn(writer, block.placedBy, same)
  for (const [channel, column] of values) {
    const name = toUtf8.encode(channel)
    part.cut(0)
    writeValues(part, column)
    const bytes = part.take()
    writer.uint(name.length)
    writer.bytes(name)
    writer.uint(bytes.length)
    writer.bytes(bytes)
  }
  writeColumn(writer, block.at, like(t))
  writeColumn(writer, block.boot, same)
  writeColumn(writer, block.seq, next)
  writeColumn(writer, block.uptime, seconds(t))
  writeColumn(writer, block.arrivedAt, like(t))
  writeColumn(writer, block.flags, same)
  if (block.deviceAt.every(Number.isNaN)) writeColumn(writer, NONE_TOLD, same)
  else {
    writeColumn(
      writer,
      block.deviceAt.map((at) => (Number.isNaN(at) ? 0 : 1)),
      same,
    )
    writeColumn(
      writer,
      block.deviceAt.map((at, i) => (Number.isNaN(at) ? t[i]! : at)),
      like(t),
    )
  }
  writer.bytes(new Uint8Array(SEAL_BYTES))
  const sealed = writer.take()
  // Nearly half of all changed blocks would otherwise read as other values.
  seal(sealed)
  return sealed
}

/** Milliseconds of a day: each reading of a probe has one of its own. */
const MOST_ROWS = 86_400_000

interface Opened extends BlockSeries {
  readonly body: Uint8Array
  readonly n: number
  /** Where what follows the channels begins. */
  readonly rest: number
}

function open(bytes: Uint8Array): Opened {
  const body = unsealed(bytes, 'a block')
  const source = createByteReader(body)
  const version = source.uint()
  if (version !== VERSION) throw new DamagedContent(`a block of version ${version} is not known`)
  const n = source.uint()
  if (n > MOST_ROWS) throw new DamagedContent(`a block of ${n} readings cannot be`)
  const count = source.uint()
  const t = readColumn(source, n, steady)
  const placedBy = readColumn(source, n, same)
  const places = new Map<string, number>()
  for (let k = 0; k < count; k++) {
    const name = utf8.decode(source.bytes(source.uint()))
    const length = source.uint()
    places.set(name, source.position)
    source.skip(length)
  }
  return {
    body,
    n,
    t,
    placedBy,
    channels: [...places.keys()],
    rest: source.position,
    values(channel) {
      const place = places.get(channel)
      return place === undefined ? null : readValues(createByteReader(body, place), n)
    },
  }
}

/** @throws DamagedContent when the bytes are not a block */
export const openSeries = (bytes: Uint8Array, row?: number): BlockSeries =>
  unpackedAt(placeOf(row), () => open(bytes))

/**
 * @param row where it lies, for what is said of damage. @default nobody said
 * @throws DamagedContent when the bytes are not a block
 */
export const decodeBlock = (bytes: Uint8Array, row?: number): Block =>
  unpackedAt(placeOf(row), () => decode(bytes))

const placeOf = (row: number | undefined): Place | null =>
  row === undefined ? null : { table: 'block', row }

function decode(bytes: Uint8Array): Block {
  const { body, n, t, placedBy, channels, values, rest } = open(bytes)
  const source = createByteReader(body, rest)
  const at = readColumn(source, n, like(t))
  const boot = readColumn(source, n, same)
  const seq = readColumn(source, n, next)
  const uptime = readColumn(source, n, seconds(t))
  const arrivedAt = readColumn(source, n, like(t))
  const flags = readColumn(source, n, same)
  const told = readColumn(source, n, same)
  const device = told.includes(1) ? readColumn(source, n, like(t)) : []
  return {
    t: t as number[],
    at,
    boot,
    seq,
    uptime,
    placedBy: placedBy as number[],
    arrivedAt,
    deviceAt: told.map((one, i) => (one === 1 ? device[i]! : NaN)),
    flags,
    values: new Map(channels.map((channel) => [channel, values(channel) as number[]])),
  }
}

/** The first position at which `t` stands or would have to stand. */
export function positionOf(block: Pick<Block, 't'>, t: number): number {
  const times = block.t
  let high = times.length
  // Readings mostly come in order.
  if (high === 0 || times[high - 1]! < t) return high
  let low = 0
  while (low < high) {
    const middle = (low + high) >> 1
    if (times[middle]! < t) low = middle + 1
    else high = middle
  }
  return low
}

const FIXED = [
  't',
  'at',
  'boot',
  'seq',
  'uptime',
  'placedBy',
  'arrivedAt',
  'deviceAt',
  'flags',
] as const satisfies readonly (keyof BlockRow)[]

/** Puts a reading where its time belongs; `t` must be free. `channels` are different ones, `values` theirs. */
export function insertRow(
  block: Block,
  row: BlockRow,
  channels: readonly string[],
  values: readonly number[],
): void {
  const n = block.t.length
  const position = positionOf(block, row.t)
  if (position === n) {
    block.t.push(row.t)
    block.at.push(row.at)
    block.boot.push(row.boot)
    block.seq.push(row.seq)
    block.uptime.push(row.uptime)
    block.placedBy.push(row.placedBy)
    block.arrivedAt.push(row.arrivedAt)
    block.deviceAt.push(row.deviceAt)
    block.flags.push(row.flags)
  } else for (const name of FIXED) block[name].splice(position, 0, row[name])
  const put = (column: number[], value: number): void => {
    if (position === n) column.push(value)
    else column.splice(position, 0, value)
  }
  for (let i = 0; i < channels.length; i++) {
    let column = block.values.get(channels[i]!)
    if (column === undefined) {
      block.values.set(channels[i]!, (column = Array<number>(n).fill(ABSENT)))
    }
    put(column, values[i]!)
  }
  if (channels.length === block.values.size) return
  for (const column of block.values.values()) if (column.length === n) put(column, ABSENT)
}

/** Takes the readings from position `from` on, `to` excluded, out into a block of their own. */
export function cutBlock(block: Block, from: number, to = block.t.length): Block {
  const cut = (column: number[]): number[] => column.splice(from, to - from)
  const values = new Map<string, number[]>()
  for (const [channel, column] of block.values) {
    const some = cut(column)
    if (some.some((value) => value !== ABSENT)) values.set(channel, some)
    if (column.every((value) => value === ABSENT)) block.values.delete(channel)
  }
  return {
    t: cut(block.t),
    at: cut(block.at),
    boot: cut(block.boot),
    seq: cut(block.seq),
    uptime: cut(block.uptime),
    placedBy: cut(block.placedBy),
    arrivedAt: cut(block.arrivedAt),
    deviceAt: cut(block.deviceAt),
    flags: cut(block.flags),
    values,
  }
}

/** From and to of the numbers of each boot in a block. */
export function spansOf({ boot, seq }: Block): Map<number, { low: number; high: number }> {
  const spans = new Map<number, { low: number; high: number }>()
  for (let i = 0; i < seq.length;) {
    const of = boot[i]!
    const span = spans.get(of) ?? { low: Infinity, high: -Infinity }
    // Readings of one boot mostly stand together.
    for (; i < seq.length && boot[i] === of; i++) {
      if (seq[i]! < span.low) span.low = seq[i]!
      if (seq[i]! > span.high) span.high = seq[i]!
    }
    spans.set(of, span)
  }
  return spans
}
