import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { expect, test } from 'vitest'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
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

  const db = new DatabaseSync(file, { readOnly: true })
  const rows = db
    .prepare('SELECT seq, t, at, placed_by, arrived_at, device_at, flags, uptime FROM reading')
    .all()
  const log = db.prepare('SELECT count(*) AS n FROM log').get()
  const values = db.prepare('SELECT timed, t, v FROM r JOIN series ON id = series ORDER BY t').all()
  db.close()
  const [first, second, third] = [1_750_000_000_000, 1_750_000_000_001, 1_750_000_000_007]
  expect(rows.map((row) => Object.values(row))).toEqual([
    [1, first, at, 2, arrivedAt, 5000, 9, 603],
    // Its millisecond was taken; the time it came with stands beside the one it got.
    [2, second, 1_750_000_000_000, 3, arrivedAt, null, 0, 1203],
    [3, third, null, 0, third, null, 0, 1803],
  ])
  expect(log).toEqual({ n: 0 })
  expect(values.map((row) => Object.values(row))).toEqual([
    [1, first, -415_000],
    [0, second, -415_000],
    [1, third, -415_000],
  ])
})
