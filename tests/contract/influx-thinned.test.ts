import { join } from 'node:path'
import { expect, test } from 'vitest'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import type { Reading } from '#hub/model/reading.ts'
import type { Buckets } from '#hub/model/series.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { delivered, openInflux, targetOn } from '#tests/support/influx-store.ts'
import { seededRandom } from '#tests/support/random.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { startInfluxd } from '#tests/support/services/services.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const fail = (error: Error): never => {
  throw error
}

test('who moves to InfluxDB after old readings have become hours still sees these hours and days', async () => {
  using folder = tempDir()
  await using influxd = await startInfluxd()
  const random = seededRandom(3)
  const start = Math.floor(sampleReading().at / DAY) * DAY
  const readings: Reading[] = Array.from({ length: 4 * 1440 }, (_, seq) =>
    sampleReading({ seq, at: start + seq * MINUTE, values: { e1: random() * 100 } }),
  )
  const look = (store: ReadingStore): Promise<readonly Buckets[]> =>
    store.buckets(
      (['hour', 'day'] as const).map((step) => ({
        probe: 'row1',
        channel: 'e1',
        from: start,
        to: start + 9 * DAY,
        step,
      })),
    )
  let store = await openReadingStore(join(folder.path, 'readings.db'), {
    onDeath: fail,
    onTrouble: fail,
  })
  await store.append(batchOf({ readings }))
  await store.settle()
  expect((await store.upkeep!.thin(start + 2 * DAY)).days).toBe(2)
  const before = await look(store)
  await store.close()

  store = await openInflux(folder.path, targetOn(influxd))
  try {
    await delivered(store)
    const after = await look(store)
    for (const [i, was] of before.entries()) {
      expect(after[i]!.time).toEqual(was.time)
      expect(after[i]!.count).toEqual(was.count)
      expect(after[i]!.max).toEqual(was.max)
    }
    // Readings of the days that are whole came through as they are.
    const [raw] = await store.buckets([
      {
        probe: 'row1',
        channel: 'e1',
        from: start + 2 * DAY,
        to: start + 9 * DAY,
        step: 'raw',
      },
    ])
    expect(raw!.time.length).toBe(2 * 1440)
  } finally {
    await store.close()
  }
}, 60_000)
