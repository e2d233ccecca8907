import { join } from 'node:path'
import { expect, test } from 'vitest'
import { latestUntil } from '#hub/store/latest-until.ts'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const NOW = 1_750_000_000_000
const YEAR = 365 * 86_400_000
const fail = (error: Error): never => {
  throw error
}

test('readings placed years ahead by a wrong clock do not hide those of now', async () => {
  using folder = tempDir()
  const store = await openReadingStore(join(folder.path, 'readings.db'), {
    onDeath: fail,
    onTrouble: fail,
  })
  try {
    await store.append(
      batchOf({
        readings: [
          sampleReading({ seq: 0, at: NOW - 1000, values: { m1: 1, st: 10 } }),
          sampleReading({ seq: 1, at: NOW + 3 * YEAR, values: { m1: 2, rh: 50 } }),
          sampleReading({ seq: 2, at: NOW, values: { m1: 3 } }),
        ],
      }),
    )
    await store.settle()
    const latest = await latestUntil(store, NOW + 500)
    const plain = latest.map(({ channel, at, value }) => [channel, at - NOW, value])
    expect(plain.toSorted((a, b) => String(a[0]).localeCompare(String(b[0])))).toEqual([
      ['m1', 0, 3],
      ['st', -1000, 10],
    ])
    // Three years later they are what is newest.
    expect((await latestUntil(store, NOW + 3 * YEAR, 'row1')).map(({ value }) => value)).toContain(
      2,
    )
  } finally {
    await store.close()
  }
})
