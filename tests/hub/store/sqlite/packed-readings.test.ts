import { expect, test } from 'vitest'
import { packReadings, unpackReadings, unpackValues } from '#hub/store/sqlite/packed-readings.ts'
import { sampleReading } from '#tests/support/sample-readings.ts'

test('nothing of a reading is lost on the way to the writer', () => {
  const readings = [
    sampleReading({
      probe: 'row2',
      boot: 4_294_967_295,
      seq: 4_294_967_295,
      at: 1_750_000_000_000.25,
      placedBy: 'anchors',
      arrivedAt: 1_750_000_009_000,
      deviceAt: 0,
      flags: 31,
      values: { e1: -41.5, 'e1.s': 0.1 + 0.2, t1: NaN },
    }),
    sampleReading({ placedBy: 'bounded', values: {} }),
    sampleReading({ probe: 'row2', placedBy: 'device', values: { feuchte: 5e-324 } }),
  ]
  const unpacked = [...unpackReadings(packReadings(readings))]
  expect(unpacked.map(({ vals }) => unpackValues(vals))).toEqual(readings.map((r) => r.values))
  expect(unpacked.map(({ vals: _vals, ...rest }) => rest)).toEqual(
    readings.map((r, i) => ({
      probe: r.probe,
      boot: r.boot,
      seq: r.seq,
      uptime: r.uptimeS,
      at: r.at,
      placedBy: [2, 3, 1][i],
      arrivedAt: r.arrivedAt,
      deviceAt: r.deviceAt,
      flags: r.flags,
    })),
  )
  expect([...unpackReadings(packReadings([]))]).toEqual([])
})
