import { unpackedAt } from './damaged-content.ts'
import { MARK_WIDTH, WIDTH } from './packed-intake.ts'
import { unsealed } from './seal.ts'
import type { BootMark } from '../../model/reading.ts'
import type { Head } from './packed-intake.ts'

/** One reading of a batch. */
export interface IntakeRow {
  probe: string
  boot: number
  seq: number
  uptime: number
  at: number
  /** Position in PLACED_BY. */
  placedBy: number
  arrivedAt: number
  /** NaN: none was sent. */
  deviceAt: number
  flags: number
  /** Where it stands among those of its probe, epoch ms; NaN: not known yet. */
  t: number
  /** The channels it has values of, and those values in the same order. */
  channels: string[]
  values: number[]
}

/** A batch whose readings lie as they were packed and are read one by one. */
export interface OpenIntake {
  readonly readings: number
  readonly marks: readonly BootMark[]
  /** The probe of reading `k`, counted from 0 in the order in which they were handed in. */
  probeOf(k: number): string
  /** Fills `row` with reading `k`. */
  read(k: number, row: IntakeRow): void
}

const utf8 = new TextDecoder()

export const emptyRow = (): IntakeRow => ({
  probe: '',
  boot: 0,
  seq: 0,
  uptime: 0,
  at: 0,
  placedBy: 0,
  arrivedAt: 0,
  deviceAt: NaN,
  flags: 0,
  t: NaN,
  channels: [],
  values: [],
})

/**
 * @param row of the log, for what is said of damage. @default nobody said
 * @throws DamagedContent when the bytes are not those that were packed
 */
export const openIntake = (body: Uint8Array, row?: number): OpenIntake =>
  unpackedAt(row === undefined ? null : { table: 'log', row }, () => open(body))

function open(body: Uint8Array): OpenIntake {
  const whole = unsealed(body, 'a batch')
  // Doubles must lie on multiples of eight; what comes out of the database may lie anywhere.
  const bytes = whole.byteOffset % 8 === 0 ? whole : Uint8Array.from(whole)
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)
  const length = view.getUint32(0, true)
  const head = JSON.parse(utf8.decode(bytes.subarray(4, 4 + length))) as Head
  const { probes, channels, readings } = head
  const start = Math.ceil((4 + length) / 8) * 8
  const fixed = readings * WIDTH + head.marks * MARK_WIDTH
  // What is left are values: eight bytes each, and two for the channel.
  const count = (bytes.length - start - fixed * 8) / 10
  const numbers = new Float64Array(bytes.buffer, bytes.byteOffset + start, fixed + count)
  const names = new Uint16Array(bytes.buffer, bytes.byteOffset + start + (fixed + count) * 8, count)
  /** Where the values of each reading begin. */
  const begins = new Uint32Array(readings)
  for (let k = 1; k < readings; k++) begins[k] = begins[k - 1]! + numbers[k * WIDTH - 1]!

  const marks: BootMark[] = []
  for (let k = 0, i = readings * WIDTH; k < head.marks; k++, i += MARK_WIDTH) {
    marks.push({
      probe: probes[numbers[i]!]!,
      boot: numbers[i + 1]!,
      top: numbers[i + 2]!,
      lost: numbers[i + 3]!,
      missing: numbers[i + 4]!,
      highest: numbers[i + 5]!,
      lastAt: numbers[i + 6]!,
    })
  }
  return {
    readings,
    marks,
    probeOf: (k) => probes[numbers[k * WIDTH]!]!,
    read(k, row) {
      const i = k * WIDTH
      const from = begins[k]!
      const n = numbers[i + 9]!
      row.probe = probes[numbers[i]!]!
      row.boot = numbers[i + 1]!
      row.seq = numbers[i + 2]!
      row.uptime = numbers[i + 3]!
      row.at = numbers[i + 4]!
      row.placedBy = numbers[i + 5]!
      row.arrivedAt = numbers[i + 6]!
      row.deviceAt = numbers[i + 7]!
      row.flags = numbers[i + 8]!
      row.t = NaN
      row.channels.length = n
      row.values.length = n
      for (let j = 0; j < n; j++) {
        row.channels[j] = channels[names[from + j]!]!
        row.values[j] = numbers[fixed + from + j]!
      }
    },
  }
}
