import fc from 'fast-check'
import { expect, test } from 'vitest'
import { lineOf, readingOf, valueIn } from '#hub/store/influx/point.ts'
import type { KeptReading } from '#hub/store/sqlite/kept-reading.ts'

const reading: KeptReading = {
  boot: 4_294_967_299,
  seq: 7,
  t: 1_750_000_000_001,
  at: 1_750_000_000_000.5,
  uptimeS: 4203,
  placedBy: 'device',
  arrivedAt: 1_750_000_000_400,
  deviceAt: 1_750_000_000_000,
  flags: 18,
  values: [
    { channel: 'phmv', value: -41.5 },
    { channel: 'st1', value: NaN },
    { channel: 'at', value: 21 },
  ],
}

test('a line holds the values under their names, failures apart, and what names the reading', () => {
  expect(lineOf('row1', reading)).toBe(
    'reading,probe=row1 phmv=-41.5,st1!=1,at=21,_boot=4294967299,_seq=7,_uptime=4203,_placed_by=1,' +
      '_arrived_at=1750000000400,_flags=18,_at=1750000000000.5,_device_at=1750000000000 1750000000001',
  )
})

test('a reading whose time is only bounded stands apart', () => {
  expect(lineOf('row1', { ...reading, placedBy: 'bounded' })).toMatch(/^bounded,probe=row1 /)
})

test('values are found in a line by their channel', () => {
  const line = lineOf('row1', reading)
  expect(valueIn(line, 'phmv')).toBe(-41.5)
  expect(valueIn(line, 'at')).toBe(21)
  expect(valueIn(line, 'st1')).toBeNaN()
  expect(valueIn(line, 'ph')).toBeUndefined()
  expect(valueIn(line, 'st')).toBeUndefined()
})

test('a point that is none of the hub is no reading', () => {
  expect(readingOf(5, new Map([['phmv', 1]]))).toBeNull()
})

test('what a line says is what comes back out of a point', () => {
  const time = fc.integer({ min: -8_000_000_000_000, max: 8_000_000_000_000 })
  const readings = fc.record({
    boot: fc.nat(),
    seq: fc.nat(),
    t: time,
    at: time,
    uptimeS: fc.double({ min: 0, max: 4e9, noNaN: true }),
    placedBy: fc.constantFrom('arrival', 'device', 'anchors', 'bounded', 'file'),
    arrivedAt: time,
    deviceAt: fc.option(time),
    flags: fc.nat(31),
    values: fc.uniqueArray(
      fc.record({
        channel: fc.string({ minLength: 1, maxLength: 8 }),
        value: fc.double({ min: -1e9, max: 1e9 }),
      }),
      { selector: ({ channel }) => channel, maxLength: 8 },
    ),
  })
  fc.assert(
    fc.property(readings, (made) => {
      const kept = { ...made, placedBy: made.placedBy as KeptReading['placedBy'] }
      const line = lineOf('row1', kept)
      const [, text, t] = /^(?:reading|bounded),probe=row1 (\S+) (-?\d+)$/.exec(line)!
      const fields = new Map(
        text!.split(',').map((pair): [string, number] => {
          const [name, value] = pair.split('=')
          return [name!, Number(value)]
        }),
      )
      const sorted = (all: KeptReading['values']) =>
        all.toSorted((a, b) => (a.channel < b.channel ? -1 : 1))
      const back = readingOf(Number(t), fields)!
      // Zero has no sign in line protocol.
      const values = sorted(kept.values).map(({ channel, value }) => ({
        channel,
        value: value + 0,
      }))
      expect({ ...back, values: sorted(back.values) }).toEqual({ ...kept, values })
    }),
    { seed: 20_261_127 },
  )
})
