import type { ChannelValue, PlacedBy, Reading } from '../../model/reading.ts'

/** Codes in the database: the position in this list. New ones go to the end. */
export const PLACED_BY: readonly PlacedBy[] = ['arrival', 'device', 'anchors', 'bounded', 'file']

/** Columns of `numbers`, in this order; `end` is where the reading's bytes in `values` end. */
const WIDTH = 10
const AT = {
  probe: 0,
  boot: 1,
  seq: 2,
  uptime: 3,
  at: 4,
  placedBy: 5,
  arrivedAt: 6,
  deviceAt: 7,
  flags: 8,
  end: 9,
} as const

/** Readings on their way to the writer: two buffers that move instead of being copied. */
export interface PackedReadings {
  /** Each probe id once; `numbers` refers to it by position. */
  readonly probes: readonly string[]
  /** `WIDTH` numbers per reading; NaN = no device time. */
  readonly numbers: Float64Array<ArrayBuffer>
  /** Per value: length of the channel name, the name in UTF-8, the value as a little-endian double. */
  readonly values: Uint8Array<ArrayBuffer>
}

/** One reading as the writer takes it out again. */
export interface UnpackedReading {
  readonly probe: string
  readonly boot: number
  readonly seq: number
  readonly uptime: number
  readonly at: number
  readonly placedBy: number
  readonly arrivedAt: number
  readonly deviceAt: number | null
  readonly flags: number
  readonly vals: Uint8Array
}

const isUint32 = (n: number): boolean => Number.isInteger(n) && n >= 0 && n <= 0xffffffff

/** A reading that breaks its own contract is a mistake of the hub: it must not reach the disk. */
function check(reading: Reading): void {
  const name = `reading ${reading.probe}/${reading.boot}/${reading.seq}`
  const { probe, boot, seq, uptimeS, at, arrivedAt, deviceAt, flags, values } = reading
  if (probe === '') throw new TypeError(`${name}: the probe id is empty`)
  if (!isUint32(seq) || !isUint32(flags)) {
    throw new TypeError(`${name}: seq and flags (${flags}) must be whole, from 0 to 4294967295`)
  }
  // Beyond 32 bit: readings out of files.
  if (!Number.isSafeInteger(boot) || boot < 0) {
    throw new TypeError(`${name}: boot must be whole, from 0 to ${Number.MAX_SAFE_INTEGER}`)
  }
  for (const time of [uptimeS, at, arrivedAt, deviceAt ?? 0]) {
    if (!Number.isFinite(time) || Math.abs(time) > 8.64e15) {
      throw new TypeError(`${name}: ${time} is not a time`)
    }
  }
  for (let i = 1; i < values.length; i++) {
    for (let j = 0; j < i; j++) {
      if (values[i]?.channel === values[j]?.channel) {
        throw new TypeError(`${name}: two values of channel '${values[i]?.channel}'`)
      }
    }
  }
}

export function packReadings(readings: readonly Reading[]): PackedReadings {
  const names = new Map<string, Buffer>()
  const nameOf = (channel: string): Buffer => {
    let bytes = names.get(channel)
    if (bytes === undefined) {
      bytes = Buffer.from(channel)
      if (bytes.length > 255) throw new TypeError(`the channel name '${channel}' is too long`)
      names.set(channel, bytes)
    }
    return bytes
  }
  let size = 0
  for (const reading of readings) {
    check(reading)
    for (const { channel } of reading.values) size += 1 + nameOf(channel).length + 8
  }

  const ids = new Map<string, number>()
  const numbers = new Float64Array(readings.length * WIDTH)
  const values = new Uint8Array(size)
  const view = new DataView(values.buffer)
  let end = 0
  readings.forEach((reading, row) => {
    let id = ids.get(reading.probe)
    if (id === undefined) {
      id = ids.size
      ids.set(reading.probe, id)
    }
    for (const { channel, value } of reading.values) {
      const name = nameOf(channel)
      values[end] = name.length
      values.set(name, end + 1)
      view.setFloat64(end + 1 + name.length, value, true)
      end += 1 + name.length + 8
    }
    const start = row * WIDTH
    numbers[start + AT.probe] = id
    numbers[start + AT.boot] = reading.boot
    numbers[start + AT.seq] = reading.seq
    numbers[start + AT.uptime] = reading.uptimeS
    numbers[start + AT.at] = reading.at
    numbers[start + AT.placedBy] = PLACED_BY.indexOf(reading.placedBy)
    numbers[start + AT.arrivedAt] = reading.arrivedAt
    numbers[start + AT.deviceAt] = reading.deviceAt ?? NaN
    numbers[start + AT.flags] = reading.flags
    numbers[start + AT.end] = end
  })
  return { probes: [...ids.keys()], numbers, values }
}

export function* unpackReadings(packed: PackedReadings): Generator<UnpackedReading> {
  const { probes, numbers, values } = packed
  let from = 0
  for (let start = 0; start < numbers.length; start += WIDTH) {
    const number = (column: number): number => numbers[start + column] ?? NaN
    const end = number(AT.end)
    const deviceAt = number(AT.deviceAt)
    yield {
      probe: probes[number(AT.probe)] ?? '',
      boot: number(AT.boot),
      seq: number(AT.seq),
      uptime: number(AT.uptime),
      at: number(AT.at),
      placedBy: number(AT.placedBy),
      arrivedAt: number(AT.arrivedAt),
      deviceAt: Number.isNaN(deviceAt) ? null : deviceAt,
      flags: number(AT.flags),
      vals: values.subarray(from, end),
    }
    from = end
  }
}

/** The values in the bytes of one reading. */
export function unpackValues(bytes: Uint8Array): ChannelValue[] {
  const text = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength)
  const values: ChannelValue[] = []
  for (let at = 0; at < text.length;) {
    const length = text[at] ?? 0
    const name = at + 1
    values.push({
      channel: text.toString('utf8', name, name + length),
      value: text.readDoubleLE(name + length),
    })
    at = name + length + 8
  }
  return values
}
