import { expect, test } from 'vitest'
import { DamagedContent } from '#hub/store/sqlite/damaged-content.ts'
import { emptyRow, openIntake } from '#hub/store/sqlite/open-intake.ts'
import { packIntake } from '#hub/store/sqlite/packed-intake.ts'
import { sampleReading } from '#tests/support/sample-readings.ts'

/** All of a batch, each reading a copy. */
function unpackIntake(body: Uint8Array) {
  const intake = openIntake(body)
  const row = emptyRow()
  const readings = Array.from({ length: intake.readings }, (_, k) => {
    intake.read(k, row)
    expect(intake.probeOf(k)).toBe(row.probe)
    return structuredClone(row)
  })
  return { readings, marks: intake.marks }
}

test('nothing of a batch is lost on the way to the writer and to the log', () => {
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
  const mark = { probe: 'row3', boot: 1, top: -1, lost: 4, missing: 2, highest: 9, lastAt: 5.5 }
  const body = packIntake(readings, [mark])
  // Out of the database bytes may come at any place in memory.
  const shifted = new Uint8Array(body.length + 3)
  shifted.set(body, 3)
  for (const bytes of [body, shifted.subarray(3)]) {
    const unpacked = unpackIntake(bytes)
    expect(unpacked.marks).toEqual([mark])
    expect(unpacked.readings).toEqual(
      readings.map((r, i) => ({
        probe: r.probe,
        boot: r.boot,
        seq: r.seq,
        uptime: r.uptimeS,
        at: r.at,
        placedBy: [2, 3, 1][i],
        arrivedAt: r.arrivedAt,
        deviceAt: r.deviceAt ?? NaN,
        flags: r.flags,
        t: NaN,
        channels: r.values.map(({ channel }) => channel),
        values: r.values.map(({ value }) => value),
      })),
    )
  }
  expect(unpackIntake(packIntake([], []))).toEqual({ readings: [], marks: [] })
})

test('a batch in which any byte was changed, or that was cut off, is told as damaged', () => {
  const body = packIntake([sampleReading({ values: { e1: -41.5, m1: 1800 } })], [])
  for (let at = 0; at < body.length; at++) {
    const changed = Uint8Array.from(body)
    changed[at] = changed[at]! ^ 0x40
    expect(() => unpackIntake(changed), `byte ${at}`).toThrow(DamagedContent)
    expect(() => unpackIntake(body.subarray(0, at)), `first ${at} bytes`).toThrow(DamagedContent)
  }
})

test('an endless value is a mistake of the hub and does not reach the disk', () => {
  expect(() => packIntake([sampleReading({ values: { e1: Infinity } })], [])).toThrow(TypeError)
})
