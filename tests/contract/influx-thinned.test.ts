import { join } from 'node:path'
import { expect, test } from 'vitest'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import type { Reading } from '#hub/model/reading.ts'
import { openInfluxClient } from '#hub/store/influx/influx-client.ts'
import { lineOf } from '#hub/store/influx/point.ts'
import type { BucketQuery, Buckets } from '#hub/model/series.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import type { KeptReading } from '#hub/store/sqlite/kept-reading.ts'
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

test('readings that have become hours in the folder are not sent beside what is there; a lost folder gets every value back', async () => {
  using folder = tempDir()
  await using influxd = await startInfluxd()
  const target = targetOn(influxd)
  const random = seededRandom(5)
  const start = Math.floor(sampleReading().at / DAY) * DAY
  // The newest day stays whole.
  const n = 1440 + 10
  const readings: Reading[] = Array.from({ length: n }, (_, seq) => {
    // On its way for some time, so that uptime tells another moment.
    const at = start + seq * MINUTE + Math.floor(random() * 900)
    return sampleReading({ seq, uptimeS: 3 + seq * 60, at, values: { e1: random() * 100 } })
  })
  const values = readings.map((one) => one.values[0]!.value)
  const raw = async (store: ReadingStore): Promise<number[]> => {
    const query = { probe: 'row1', channel: 'e1', from: start, to: start + 2 * DAY, step: 'raw' }
    const [buckets] = await store.buckets([query as BucketQuery])
    return [...buckets!.mean]
  }
  const client = openInfluxClient(target)
  try {
    const named = async (): Promise<unknown> =>
      (await client.query('SELECT count("_boot") AS n FROM "reading"'))[0]?.['n']
    let store = await openInflux(folder.path, target)
    await store.append(batchOf({ readings }))
    await store.settle()
    await delivered(store)
    expect((await store.upkeep!.thin(start + 2 * DAY)).readings).toBe(1440)
    await store.close()
    // For a while without, and then again: what each of the two knows has to be found out anew.
    store = await openReadingStore(
      join(folder.path, 'readings.db'),
      { onDeath: fail, onTrouble: fail },
      { forward: false },
    )
    await store.close()
    store = await openInflux(folder.path, target)
    await delivered(store)
    expect(await named()).toBe(n)
    expect(await raw(store)).toEqual(values)
    await store.close()

    // As hubs before did: names alone, some before and some behind the readings themselves.
    const bare = readings.slice(100, 140).map((one, i) => {
      const reading: KeptReading = {
        ...one,
        values: [],
        t: one.at + (i % 2 === 0 ? -20_000 : 20_000),
      }
      return lineOf('row1', { ...reading, at: reading.t })
    })
    await client.write(bare)
    expect(await named()).toBe(n + bare.length)
    using again = tempDir()
    store = await openInflux(again.path, target)
    await delivered(store)
    await store.settle()
    expect(await store.counts()).toMatchObject({ readings: n, quarantined: 0, duplicates: 0 })
    expect((await store.recall('row1', 1)).mark).toMatchObject({ top: n - 1, missing: 0 })
    await store.close()
    store = await openReadingStore(
      join(again.path, 'readings.db'),
      { onDeath: fail, onTrouble: fail },
      { forward: false },
    )
    expect(await raw(store)).toEqual(values)
    await store.close()
  } finally {
    await client.close()
  }
})
