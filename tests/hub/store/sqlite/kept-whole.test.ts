import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { expect, test } from 'vitest'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { storedReadings } from '#tests/support/stored-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const fail = (error: Error): never => {
  throw error
}

test('all times of a reading, its flags and how it got its time stay on the disk', async () => {
  using folder = tempDir()
  const file = join(folder.path, 'readings.db')
  const store = await openReadingStore(file, { onDeath: fail, onTrouble: fail })
  const arrivedAt = 1_750_000_100_000
  const at = 1_750_000_000_000.25
  await store.append(
    batchOf({
      readings: [
        sampleReading({ seq: 1, at, arrivedAt, deviceAt: 5000, flags: 9, placedBy: 'anchors' }),
        sampleReading({ seq: 2, at: 1_750_000_000_000, arrivedAt, placedBy: 'bounded' }),
        sampleReading({ seq: 3, at: 1_750_000_000_007 }),
      ],
    }),
  )
  await store.settle()
  await store.close()

  const rows = storedReadings(file).map(({ values, ...row }) => [
    row.seq,
    row.t,
    row.at,
    row.placedBy,
    row.arrivedAt,
    row.deviceAt,
    row.flags,
    row.uptime,
    values['e1'],
  ])
  const db = new DatabaseSync(file, { readOnly: true })
  const log = db.prepare('SELECT count(*) AS n FROM log').get()
  db.close()
  const [first, second, third] = [1_750_000_000_000, 1_750_000_000_001, 1_750_000_000_007]
  expect(rows).toEqual([
    [1, first, at, 2, arrivedAt, 5000, 9, 603, -41.5],
    // Its millisecond was taken; the time it came with stands beside the one it got.
    [2, second, 1_750_000_000_000, 3, arrivedAt, NaN, 0, 1203, -41.5],
    [3, third, third, 0, third, NaN, 0, 1803, -41.5],
  ])
  expect(log).toEqual({ n: 0 })
})
