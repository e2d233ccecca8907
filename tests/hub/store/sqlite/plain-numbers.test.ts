import { join } from 'node:path'
import { expect, test } from 'vitest'
import { PLAIN_BOOT, type Reading } from '#hub/model/reading.ts'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { storedReadings } from '#tests/support/stored-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const fail = (error: Error): never => {
  throw error
}
const START = 1_750_000_000_000
/** A plain number as the hub numbers it; uptime counts whole seconds of its clock. */
function plain(seq: number, at: number, e1 = -40): Reading {
  const uptimeS = Math.floor(at / 1000)
  return sampleReading({ boot: PLAIN_BOOT, seq, at, arrivedAt: at, uptimeS, values: { e1 } })
}
async function keep(store: ReadingStore, readings: readonly Reading[]): Promise<void> {
  await store.append(batchOf({ readings }))
  await store.settle()
}

test('a plain number under a number the hub had forgotten it gave is kept under the next; a row settled again adds nothing', async () => {
  using folder = tempDir()
  const file = join(folder.path, 'readings.db')
  const store = await openReadingStore(file, { onDeath: fail, onTrouble: fail })
  await keep(store, [plain(0, START), plain(1, START + 60_000)])
  // As after a start that could not know of the two: other values, the same value later, twice in one millisecond.
  const forgotten = [
    plain(0, START + 120_000, -41),
    plain(1, START + 60_400),
    plain(2, START + 180_000, -42),
    plain(3, START + 180_000, -42),
  ]
  await keep(store, forgotten)
  const numbers = () => storedReadings(file).map(({ seq, t }) => [seq, t - START])
  const all = [
    [0, 0],
    [1, 60_000],
    [3, 60_400],
    [2, 120_000],
    [4, 180_000],
    [5, 180_001],
  ]
  expect(numbers()).toEqual(all)
  expect(await store.counts()).toMatchObject({ readings: 6, quarantined: 0, duplicates: 0 })

  await keep(store, forgotten)
  expect(numbers()).toEqual(all)
  expect(await store.counts()).toMatchObject({ readings: 6, quarantined: 0, duplicates: 4 })
  // A number of a probe's own is the probe's to answer for.
  await keep(store, [sampleReading({ seq: 7 }), sampleReading({ seq: 7, values: { e1: 1 } })])
  expect(await store.counts()).toMatchObject({ readings: 7, quarantined: 1 })
  await store.close()
})
