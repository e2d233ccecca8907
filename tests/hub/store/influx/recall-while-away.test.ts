import { join } from 'node:path'
import { expect, test } from 'vitest'
import { createIngest } from '#hub/ingest/ingest.ts'
import { MINUTE } from '#hub/model/clock.ts'
import { openStores } from '#hub/store/open.ts'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import type { BootMark } from '#hub/model/reading.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { openInflux } from '#tests/support/influx-store.ts'
import { freePort } from '#tests/support/ports.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const fail = (error: Error): never => {
  throw error
}
/** Nobody listens there, so nothing is settled. */
const nowhere = async () => ({
  url: `http://127.0.0.1:${await freePort()}`,
  database: 'garden',
  retention: null,
  auth: { kind: 'none' as const },
})

test('what is acknowledged of a boot is recalled while it cannot be settled as it is once it is', async () => {
  const at = (seq: number): number => sampleReading({ seq }).at
  const mark = (some: Partial<BootMark>): BootMark => ({
    probe: 'row1',
    boot: 1,
    top: 2,
    lost: 1,
    missing: 1,
    highest: 4,
    lastAt: at(4),
    ...some,
  })
  const batches = [
    batchOf({
      readings: [sampleReading({ seq: 0 }), sampleReading({ seq: 2 }), sampleReading({ seq: 6 })],
      marks: [mark({ top: 0, lost: 0, highest: 6, missing: 4 })],
      anchors: [{ probe: 'row1', boot: 1, uptimeS: 3, at: at(0) }],
    }),
    batchOf({
      readings: [
        sampleReading({ seq: 4 }),
        sampleReading({ seq: 8, placedBy: 'anchors' }),
        // The same second of uptime, and sooner here.
        sampleReading({ seq: 7, uptimeS: 3 + 6 * 600, at: at(6) - 40 }),
        sampleReading({ boot: 2, seq: 5 }),
        sampleReading({ probe: 'row2', seq: 9 }),
      ],
      marks: [mark({ highest: 8, missing: 2 }), mark({ boot: 2, top: 0, lost: 0 })],
    }),
    // Told twice by the probe.
    batchOf({ readings: [sampleReading({ seq: 4 })] }),
  ]
  const asked: [string, number][] = [
    ['row1', 1],
    ['row1', 2],
    ['row2', 1],
    ['row3', 1],
  ]
  const all = (store: ReadingStore) => Promise.all(asked.map((boot) => store.recall(...boot)))
  using folder = tempDir()
  const file = join(folder.path, 'settled.db')
  const settled = await openReadingStore(file, { onDeath: fail, onTrouble: fail })
  for (const batch of batches) await settled.append(batch)
  const known = await all(settled)
  expect(known[0]).toMatchObject({ mark: { top: 2, lost: 1 }, ahead: [4, 6, 7, 8] })
  expect(known[0]!.newest).toEqual({ uptimeS: 3 + 6 * 600, at: at(6) - 40 })
  await settled.close()

  const target = await nowhere()
  let store = await openInflux(folder.path, target)
  await store.append(batches[0]!)
  await store.recall('row1', 1)
  for (const batch of batches.slice(1)) await store.append(batch)
  expect(await all(store)).toEqual(known)
  await store.close()
  store = await openInflux(folder.path, target)
  expect(await all(store)).toEqual(known)
  await store.close()
})

test('a hub that starts again while its InfluxDB is away takes nothing for lost that it has acknowledged', async () => {
  using folder = tempDir()
  let now = sampleReading().at
  const open = async (influx: Awaited<ReturnType<typeof nowhere>> | null) => {
    const stores = await openStores(folder.path, { influx, clock: () => now })
    const log = { info() {}, warn() {} }
    const ingest = createIngest({ ...stores, clock: () => now, log })
    return {
      readings: stores.readings,
      async send(leaf: string, body: object): Promise<void> {
        now += MINUTE
        const payload = Buffer.from(JSON.stringify(body))
        const came = { payload, arrivedAt: now, retain: false, mayBeDelayed: false }
        await ingest.ingest([{ topic: `lm1/row1/up/${leaf}`, ...came }])
      },
      async [Symbol.asyncDispose](): Promise<void> {
        ingest.stop()
        await stores.close()
      },
    }
  }
  const target = await nowhere()
  {
    await using hub = await open(target)
    for (let n = 0; n < 20; n++) await hub.send('r', { b: 1, n, u: 10 + n * 60, v: { e1: -41.5 } })
  }
  {
    await using hub = await open(target)
    // It lets go of what was acknowledged, and begins behind it.
    const rows = [
      [20, 1210, -41],
      [22, 1330, -41],
    ]
    await hub.send('b', { b: 1, u: 1340, c: ['e1'], r: rows })
    expect(await hub.readings.counts()).toMatchObject({ lost: 0 })
  }
  await using hub = await open(null)
  await hub.readings.settle()
  expect(await hub.readings.counts()).toMatchObject({ readings: 22, lost: 0 })
  expect((await hub.readings.recall('row1', 1)).mark).toMatchObject({ top: 20, missing: 1 })
})
