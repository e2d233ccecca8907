import fc from 'fast-check'
import { expect, test } from 'vitest'
import {
  cutBlock,
  decodeBlock,
  emptyBlock,
  encodeBlock,
  insertRow,
  openSeries,
  spansOf,
} from '#hub/store/sqlite/block.ts'
import { DamagedContent } from '#hub/store/sqlite/damaged-content.ts'
import type { BlockRow } from '#hub/store/sqlite/block.ts'
import { ABSENT } from '#hub/store/sqlite/value-column.ts'

const DAY = 86_400_000
const whole = (max: number) => fc.integer({ min: 0, max })
const value = fc.oneof(
  fc.constant(NaN),
  fc.integer({ min: -1e9, max: 1e9 }),
  fc.integer({ min: -4000, max: 4000 }).map((n) => n / 8),
  fc.integer({ min: -99_999, max: 99_999 }).map((n) => n / 1000),
  fc.double({ noDefaultInfinity: true }).filter((n) => Number.isFinite(n)),
)
const row = fc.record({
  t: whole(DAY - 1).map((ms) => 20_000 * DAY + ms),
  at: fc.oneof(fc.double({ min: -8e15, max: 8e15, noNaN: true }), whole(2 ** 50)),
  boot: fc.oneof(whole(3), fc.maxSafeNat()),
  seq: fc.oneof(whole(40), whole(0xffffffff)),
  uptime: fc.oneof(whole(9999), fc.double({ min: 0, max: 1e9, noNaN: true })),
  placedBy: whole(4),
  arrivedAt: whole(2 ** 50),
  deviceAt: fc.oneof(
    fc.constant(NaN),
    whole(2 ** 50),
    fc.double({ min: 0, max: 1e15, noNaN: true }),
  ),
  flags: whole(0xffffffff),
})
const rows = fc.uniqueArray(
  fc.tuple(row, fc.dictionary(fc.constantFrom('e1', 'e1.s', 'm1', 'feuchte', ''), value)),
  { selector: ([{ t }]) => t, maxLength: 40 },
)

/** The sign of a zero may be lost on the disk. */
const plain = (n: number): number => (n === 0 ? 0 : n)

test('a block gives back what was put in, in whatever order', () => {
  fc.assert(
    fc.property(rows, (given) => {
      const block = emptyBlock()
      for (const [one, values] of given)
        insertRow(block, one, Object.keys(values), Object.values(values))
      const back = decodeBlock(encodeBlock(block))
      const sorted = given.toSorted(([a], [b]) => a.t - b.t)
      for (const key of [
        't',
        'at',
        'boot',
        'seq',
        'uptime',
        'placedBy',
        'arrivedAt',
        'deviceAt',
        'flags',
      ] as const) {
        expect(back[key].map(plain), key).toEqual(sorted.map(([one]) => plain(one[key])))
      }
      const channels = new Set(given.flatMap(([, values]) => Object.keys(values)))
      expect(new Set(back.values.keys())).toEqual(channels)
      const series = openSeries(encodeBlock(block))
      for (const channel of channels) {
        const column = sorted.map(([, values]) =>
          Object.hasOwn(values, channel) ? plain(values[channel]!) : ABSENT,
        )
        expect(back.values.get(channel)!.map(plain)).toEqual(column)
        expect(series.values(channel)!.map(plain)).toEqual(column)
      }
      expect(series.t).toEqual(back.t)
      expect(series.placedBy).toEqual(back.placedBy)
      expect(series.values('never')).toBeNull()
    }),
  )
})

test('the spans of a block hold every number of it', () => {
  fc.assert(
    fc.property(rows, (given) => {
      const block = emptyBlock()
      for (const [one] of given) insertRow(block, one, [], [])
      const spans = spansOf(block)
      expect(new Set(spans.keys())).toEqual(new Set(given.map(([{ boot }]) => boot)))
      for (const [{ boot, seq }] of given) {
        const { low, high } = spans.get(boot)!
        expect(low <= seq && seq <= high).toBe(true)
      }
    }),
  )
})

test('a cut leaves both parts whole', () => {
  fc.assert(
    fc.property(rows, whole(40), (given, where) => {
      const block = emptyBlock()
      for (const [one, values] of given)
        insertRow(block, one, Object.keys(values), Object.values(values))
      const before = decodeBlock(encodeBlock(block))
      const from = Math.min(where, given.length)
      const rest = cutBlock(block, from)
      expect([...block.t, ...rest.t]).toEqual(before.t)
      for (const [channel, column] of before.values) {
        const parts = [block, rest].flatMap(
          ({ t, values }) => values.get(channel) ?? t.map(() => ABSENT),
        )
        expect(parts.map(plain)).toEqual(column.map(plain))
      }
    }),
  )
})

test('a day of four channels as probes send them takes less than three bytes a value', () => {
  const block = emptyBlock()
  for (let i = 0; i < 96; i++) {
    const t = 20_000 * DAY + i * 900_000 + ((i * 37) % 50)
    const one: BlockRow = {
      t,
      at: t,
      boot: 3_000_000_000,
      seq: 5000 + i,
      uptime: 70_000 + i * 900,
      placedBy: 0,
      arrivedAt: t,
      deviceAt: NaN,
      flags: 0,
    }
    const wave = Math.sin(i / 15)
    insertRow(
      block,
      one,
      ['e1', 'm1', 't1', 'bat'],
      [
        Math.round(-400 + 20 * wave) / 8,
        Math.round(1800 + 30 * wave),
        Math.round(240 + 60 * wave) / 16,
        Math.round(395 + wave) / 100,
      ],
    )
  }
  expect(encodeBlock(block).length / (96 * 4)).toBeLessThan(3)
})

/** CRC-32 bit by bit, polynomial 0x04C11DB7 reflected (ITU-T V.42, 8.1.1.6.2). */
function slowCrc32(bytes: Uint8Array): number {
  let crc = 0xffff_ffff
  for (const byte of bytes) {
    crc ^= byte
    for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >>> 1) ^ 0xedb8_8320 : crc >>> 1
  }
  return ~crc >>> 0
}

test('a block that was changed on the disk, at whichever place, is told and not read as other values', () => {
  // The check value that catalogues of such sums give for these nine digits.
  expect(slowCrc32(Buffer.from('123456789'))).toBe(0xcbf4_3926)
  const block = emptyBlock()
  const times = { boot: 7, placedBy: 0, deviceAt: NaN, flags: 0 }
  for (let i = 0; i < 40; i++) {
    const t = 1_790_000_000_000 + i * 600_000
    const one = { ...times, t, at: t, seq: i, uptime: i * 600, arrivedAt: t }
    insertRow(block, one, ['e1', 'm1'], [-400 + i / 8, 1800 + i])
  }
  const whole = encodeBlock(block)
  const end = whole.length - 4
  expect(Buffer.from(whole).readUInt32LE(end)).toBe(slowCrc32(whole.subarray(0, end)))
  expect(decodeBlock(whole)).toEqual(block)
  for (let place = 0; place < whole.length; place++) {
    for (const bit of [0, 3, 7]) {
      const changed = Uint8Array.from(whole)
      changed[place]! ^= 1 << bit
      expect(() => decodeBlock(changed)).toThrow(DamagedContent)
      expect(() => openSeries(changed)).toThrow(DamagedContent)
    }
  }
})

test('bytes that are no block are refused', () => {
  expect(() => decodeBlock(Uint8Array.of(2, 1, 0))).toThrow(RangeError)
  expect(() => decodeBlock(Uint8Array.of(1, 5, 0, 1, 128))).toThrow(RangeError)
})
