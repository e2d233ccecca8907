import { copyFileSync } from 'node:fs'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { expect, test } from 'vitest'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { openInfluxReadingStore } from '#hub/store/influx/open-influx-reading-store.ts'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { delivered, heldThere, targetOn } from '#tests/support/influx-store.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { startInfluxd } from '#tests/support/services/services.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const PER_DAY = DAY / MINUTE
const START = Math.floor(sampleReading().at / DAY) * DAY
const fail = (error: Error): never => {
  throw error
}
const watch = { onDeath: fail, onTrouble: fail, onDamage: () => {} }
const rows = async (store: ReadingStore): Promise<number> =>
  (
    await store.buckets([
      { probe: 'row1', channel: 'e1', from: START, to: START + 9 * DAY, step: 'raw' },
    ])
  )[0]!.time.length

function spoilFirst(file: string): void {
  const db = new DatabaseSync(file)
  const { id, body } = db.prepare('SELECT id, body FROM block ORDER BY start LIMIT 1').get() as {
    id: number
    body: Uint8Array
  }
  body[9] = body[9]! ^ 1
  db.prepare('UPDATE block SET body = ? WHERE id = ?').run(body, id)
  db.close()
}

test('a day damaged before there was an InfluxDB comes back out of a backup and goes there, too; one damaged since is whole there', async () => {
  using folder = tempDir()
  await using influxd = await startInfluxd()
  const target = targetOn(influxd)
  const file = join(folder.path, 'readings.db')
  const backup = join(folder.path, 'backup.db')
  let store = await openReadingStore(file, watch)
  const readings = Array.from({ length: 3 * PER_DAY }, (_, seq) =>
    sampleReading({ seq, at: START + seq * MINUTE, values: { e1: seq % 10 } }),
  )
  await store.append(batchOf({ readings }))
  await store.settle()
  await store.close()
  copyFileSync(file, backup)
  spoilFirst(file)
  store = await openReadingStore(file, watch)
  expect(await rows(store)).toBe(2 * PER_DAY)
  await store.close()

  const open = () =>
    openInfluxReadingStore(file, target, { ...watch, onForwarding: () => {}, clock: Date.now })
  store = await open()
  await delivered(store)
  expect(await rows(store)).toBe(2 * PER_DAY)
  expect((await heldThere(target)).n).toBe(2 * PER_DAY)
  expect(await store.damage.bringBack(backup, { at: 1 })).toMatchObject({ readings: PER_DAY })
  await delivered(store)
  expect(await rows(store)).toBe(3 * PER_DAY)
  const all = await heldThere(target)
  expect(all.n).toBe(3 * PER_DAY)
  await store.close()

  spoilFirst(file)
  store = await open()
  await delivered(store)
  // Whatever meets it in the folder.
  expect(await store.newest('row1', 9 * PER_DAY)).toHaveLength(2 * PER_DAY)
  expect(await store.damaged()).toMatchObject({ parts: 1, readings: PER_DAY })
  expect(await rows(store)).toBe(3 * PER_DAY)
  expect(await store.damage.within(['row1'], START, START + 9 * DAY)).toEqual([])
  copyFileSync(backup, `${backup}-2`)
  expect(await store.damage.bringBack(`${backup}-2`, { at: 2 })).toMatchObject({
    readings: PER_DAY,
  })
  await delivered(store)
  // The same readings at the same moments are the same points.
  expect(await heldThere(target)).toEqual(all)
  await influxd.stop()
  expect(await rows(store)).toBe(3 * PER_DAY)
  await store.close()
}, 90_000)
