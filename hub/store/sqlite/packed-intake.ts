import { PLACED_BY } from './placed-by.ts'
import { SEAL_BYTES, seal } from './seal.ts'
import type { Anchor, BootMark, IntakeBatch, Quarantined, Reading } from '../../model/reading.ts'

/*
 * An intake batch as one stretch of bytes: made once on the caller's side, moved to the writer, stored as it
 * is and taken apart when it settles.
 *
 * Layout: length of the head (uint32), the head as JSON, zeros up to a multiple of 8; then doubles: WIDTH for
 * each reading, MARK_WIDTH for each mark, the values; then the channel of each value (uint16); then the seal.
 * Little-endian.
 */

export const WIDTH = 10
export const MARK_WIDTH = 7
/** Channel names one batch can hold. */
const MOST_CHANNELS = 65_536

/** Names stand once; numbers refer to them by position. */
export interface Head {
  readonly probes: readonly string[]
  readonly channels: readonly string[]
  readonly readings: number
  readonly marks: number
}

/** An intake batch on its way to the thread that writes. */
export interface PackedBatch {
  /** Readings and marks as `packIntake` made them; empty when there are none. Its buffer may be moved. */
  readonly intake: Uint8Array<ArrayBuffer>
  /** How many readings it holds. */
  readonly readings: number
  /** Marks of boots of which something is written off. */
  readonly lossy: readonly BootMark[]
  readonly anchors: readonly Anchor[]
  readonly quarantined: readonly Quarantined[]
}

const toUtf8 = new TextEncoder()
const isUint32 = (n: number): boolean => n >>> 0 === n
const isTime = (n: number): boolean => Math.abs(n) <= 8.64e15

/** A reading that breaks its own contract is a mistake of the hub: it must not reach the disk. */
function check(reading: Reading): void {
  const { probe, boot, seq, uptimeS, at, arrivedAt, deviceAt, flags, values } = reading
  if (probe === '') throw wrong(reading, 'the probe id is empty')
  if (!isUint32(seq) || !isUint32(flags))
    throw wrong(reading, `seq and flags (${flags}) must be whole, from 0 to 4294967295`)
  // Beyond 32 bit: readings out of files.
  if (!Number.isSafeInteger(boot) || boot < 0)
    throw wrong(reading, `boot must be whole, from 0 to ${Number.MAX_SAFE_INTEGER}`)
  if (!isTime(uptimeS) || !isTime(at) || !isTime(arrivedAt) || !isTime(deviceAt ?? 0))
    throw wrong(reading, `${[uptimeS, at, arrivedAt, deviceAt].join(', ')} are not times`)
  for (let i = 0; i < values.length; i++) {
    const { channel, value } = values[i]!
    if (value === Infinity || value === -Infinity) throw wrong(reading, `'${channel}' is ${value}`)
    for (let j = 0; j < i; j++) {
      if (values[j]!.channel === channel) throw wrong(reading, `two values of channel '${channel}'`)
    }
  }
}

const wrong = ({ probe, boot, seq }: Reading, what: string): TypeError =>
  new TypeError(`reading ${probe}/${boot}/${seq}: ${what}`)

/** Positions of names in the order in which they were first asked for. */
function numbering(): { readonly names: string[]; readonly of: (name: string) => number } {
  const names: string[] = []
  const known = new Map<string, number>()
  let last = -1
  return {
    names,
    of(name) {
      // Names mostly come in the same order again and again.
      const guess = last + 1 < names.length ? last + 1 : 0
      if (names[guess] === name) return (last = guess)
      let position = known.get(name)
      if (position === undefined) {
        position = names.length
        names.push(name)
        known.set(name, position)
      }
      return (last = position)
    },
  }
}

/** @throws TypeError for a reading that cannot be one */
export function packIntake(
  readings: readonly Reading[],
  marks: readonly BootMark[],
): Uint8Array<ArrayBuffer> {
  const probes = numbering()
  const channels = numbering()
  let count = 0
  for (const reading of readings) {
    check(reading)
    probes.of(reading.probe)
    for (const { channel } of reading.values) channels.of(channel)
    count += reading.values.length
  }
  for (const { probe } of marks) probes.of(probe)
  if (channels.names.length > MOST_CHANNELS) throw new TypeError('too many channels in one batch')

  const head: Head = {
    probes: probes.names,
    channels: channels.names,
    readings: readings.length,
    marks: marks.length,
  }
  const text = toUtf8.encode(JSON.stringify(head))
  const start = Math.ceil((4 + text.length) / 8) * 8
  const fixed = readings.length * WIDTH + marks.length * MARK_WIDTH
  const body = new Uint8Array(start + (fixed + count) * 8 + count * 2 + SEAL_BYTES)
  new DataView(body.buffer).setUint32(0, text.length, true)
  body.set(text, 4)
  const numbers = new Float64Array(body.buffer, start, fixed + count)
  const names = new Uint16Array(body.buffer, start + numbers.byteLength, count)
  let i = 0
  let value = fixed
  let name = 0
  for (const r of readings) {
    numbers[i] = probes.of(r.probe)
    numbers[i + 1] = r.boot
    numbers[i + 2] = r.seq
    numbers[i + 3] = r.uptimeS
    numbers[i + 4] = r.at
    numbers[i + 5] = PLACED_BY.indexOf(r.placedBy)
    numbers[i + 6] = r.arrivedAt
    numbers[i + 7] = r.deviceAt ?? NaN
    numbers[i + 8] = r.flags
    numbers[i + 9] = r.values.length
    i += WIDTH
    for (const one of r.values) {
      numbers[value++] = one.value
      names[name++] = channels.of(one.channel)
    }
  }
  for (const m of marks) {
    numbers[i] = probes.of(m.probe)
    numbers[i + 1] = m.boot
    numbers[i + 2] = m.top
    numbers[i + 3] = m.lost
    numbers[i + 4] = m.missing
    numbers[i + 5] = m.highest
    numbers[i + 6] = m.lastAt
    i += MARK_WIDTH
  }
  seal(body)
  return body
}

/** @throws TypeError for a reading that cannot be one */
export function packBatch({ readings, marks, anchors, quarantined }: IntakeBatch): PackedBatch {
  return {
    intake: readings.length + marks.length === 0 ? new Uint8Array(0) : packIntake(readings, marks),
    readings: readings.length,
    lossy: marks.filter(({ lost }) => lost > 0),
    anchors,
    // A message's bytes are often a small view of a large buffer, which would be copied whole.
    quarantined: quarantined.map((q) => ({ ...q, payload: Uint8Array.from(q.payload) })),
  }
}
