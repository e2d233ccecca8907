import { copyFileSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import type { HubError } from '#hub/errors.ts'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import type { BucketQuery, Step } from '#hub/model/series.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { DamagedContent } from '#hub/store/sqlite/damaged-content.ts'
import { encodeHours, openHours, sealedHours } from '#hub/store/sqlite/hour-columns.ts'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { seededRandom } from '#tests/support/random.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { withinDatabase } from '#tests/support/within-database.ts'

const START = Date.UTC(2025, 5, 1)
const DAYS = 3
const SEAL = 4
const fail = (error: Error): never => {
  throw error
}

async function open(file: string) {
  const told: HubError[] = []
  const watch = { onDeath: fail, onTrouble: fail, onDamage: (error: HubError) => told.push(error) }
  return { store: await openReadingStore(file, watch), told }
}

/** Three days of a reading a minute, and the beginning of a fourth; all whole days are hours. */
async function thinnedFile(): Promise<string> {
  const folder = tempDir()
  onTestFinished(() => folder[Symbol.dispose]())
  const file = join(folder.path, 'readings.db')
  const random = seededRandom(7)
  const { store } = await open(file)
  const readings = Array.from({ length: (DAYS * DAY) / MINUTE + 60 }, (_, seq) =>
    sampleReading({
      seq,
      at: START + seq * MINUTE,
      values: { m1: random(), t1: seq % 50 === 0 ? NaN : 10 + random() },
    }),
  )
  await store.append(batchOf({ readings }))
  await store.settle()
  expect(await store.upkeep!.thin(START + DAYS * DAY)).toMatchObject({ days: DAYS })
  // One that came late, into the second day.
  const late = sampleReading({ seq: 9_000, at: START + DAY + 5_000, values: { m1: 7 } })
  await store.append(batchOf({ readings: [late] }))
  await store.settle()
  await store.close()
  return file
}

const bucketsOf = (store: ReadingStore, step: Step) =>
  store.buckets(
    ['m1', 't1'].map((channel): BucketQuery => ({
      probe: 'row1',
      channel,
      from: START,
      to: START + DAYS * DAY,
      step,
    })),
  )

/** The file as the layout before knew it: hours without seals, the table of damaged parts without an end. */
function asLayout6(file: string): void {
  withinDatabase(file, (db) => {
    const rows = db
      .prepare('SELECT id, hours FROM block WHERE thinned = 1 AND hours IS NOT NULL')
      .all() as unknown as { id: number; hours: Uint8Array }[]
    expect(rows).toHaveLength(DAYS)
    for (const { id, hours } of rows) {
      const bare = hours.slice(0, -SEAL)
      bare[0] = 1
      db.prepare('UPDATE block SET hours = ? WHERE id = ?').run(bare, id)
    }
    db.prepare(`UPDATE tally SET n = n - ? WHERE name = 'hour bytes'`).run(
      BigInt(SEAL * rows.length),
    )
    db.exec('DROP TABLE damaged')
    db.exec(readFileSync('hub/store/migrations/readings/006-damaged.sql', 'utf8'))
    db.exec('PRAGMA user_version = 6')
  })
}

const tallyOf = (file: string) =>
  withinDatabase(file, (db) => db.prepare('SELECT name, n FROM tally ORDER BY name').all())

test('hours of the layout before are sealed as they are, and every figure reads as before', async () => {
  const file = await thinnedFile()
  const before = await open(file)
  const [hours, days] = [
    await bucketsOf(before.store, 'hour'),
    await bucketsOf(before.store, 'day'),
  ]
  await before.store.close()
  const tally = tallyOf(file)
  asLayout6(file)

  const { store, told } = await open(file)
  expect(await bucketsOf(store, 'hour')).toEqual(hours)
  expect(await bucketsOf(store, 'day')).toEqual(days)
  await store.rebuild()
  expect(await bucketsOf(store, 'day')).toEqual(days)
  await store.close()
  expect(told).toEqual([])
  expect(tallyOf(file)).toEqual(tally)
  withinDatabase(file, (db) => {
    expect(db.prepare('PRAGMA user_version').get()).toEqual({ user_version: 7 })
    expect(db.prepare('SELECT sum(length(hours)) AS n FROM block').get()).toEqual(
      db.prepare(`SELECT n FROM tally WHERE name = 'hour bytes'`).get(),
    )
    const rows = db.prepare('SELECT hours FROM block WHERE hours IS NOT NULL').all()
    for (const { hours: sealed } of rows as unknown as { hours: Uint8Array }[])
      expect(openHours(sealed).channels).toEqual(['m1', 't1'])
  })
})

test('damaged parts of the layout before keep what was known of them and get an end', async () => {
  const file = await thinnedFile()
  asLayout6(file)
  withinDatabase(file, (db) => {
    // A block that begins at noon: a part before it ends there, one after it with the day.
    db.exec(`INSERT INTO block (probe, start, n, body) VALUES (1, ${START + 5.5 * DAY}, 0, x'00')`)
    db.exec(
      `INSERT INTO damaged (id, at, part, place, probe, thinned, n, why, body) VALUES
       (3, 10, 'log', 42, NULL, 0, 9, 'a', x'01'), (5, 20, 'block', ${START + 5 * DAY}, 1, 0, 8, 'b', x'02'),
       (6, 30, 'block', ${START + 5.75 * DAY}, 1, 1, 7, 'c', x'03'),
       (8, 40, 'block', ${-0.25 * DAY}, 1, 0, 6, 'd', x'04')`,
    )
  })
  const { store } = await open(file)
  const open7 = { probe: 'row1', back: 0, bytes: 1, settled: null }
  expect(await store.damage.list()).toEqual([
    {
      ...open7,
      id: 8,
      metAt: 40,
      what: 'readings',
      from: -0.25 * DAY,
      to: 0,
      readings: 6,
      now: 0,
      why: 'd',
    },
    {
      ...open7,
      id: 6,
      metAt: 30,
      what: 'names',
      from: START + 5.75 * DAY,
      to: START + 6 * DAY,
      readings: 7,
      now: 0,
      why: 'c',
    },
    {
      ...open7,
      id: 5,
      metAt: 20,
      what: 'readings',
      from: START + 5 * DAY,
      to: START + 5.5 * DAY,
      readings: 8,
      now: 0,
      why: 'b',
    },
    {
      ...open7,
      id: 3,
      metAt: 10,
      what: 'batch',
      probe: null,
      from: null,
      to: null,
      readings: 9,
      now: null,
      why: 'a',
    },
  ])
  expect(await store.damage.bytes(5)).toEqual(Uint8Array.of(2))
  await store.close()
})

test('hours that could not be read before stay as they are, and are put aside when they are met', async () => {
  const file = await thinnedFile()
  const before = await open(file)
  const days = await bucketsOf(before.store, 'day')
  await before.store.close()
  asLayout6(file)
  withinDatabase(file, (db) =>
    db.exec(`UPDATE block SET hours = x'0963' WHERE start = ${START + DAY} AND hours IS NOT NULL`),
  )
  const { store, told } = await open(file)
  expect(await bucketsOf(store, 'day')).toEqual(days)
  expect(told).toEqual([])
  const [m1] = await bucketsOf(store, 'hour')
  // The late one is still there, and of the other days everything.
  expect([...m1!.count]).toEqual([...Array(24).fill(60), 1, ...Array(24).fill(60)])
  expect(told.map(({ message }) => message)).toEqual([
    expect.stringContaining('the hours of row1 of 2025-06-02'),
  ])
  expect(await bucketsOf(store, 'day')).toEqual(days)
  await store.rebuild()
  const [again] = await bucketsOf(store, 'day')
  // Taking the late one out again and putting it in leaves what binary fractions leave.
  for (const [i, mean] of again!.mean.entries()) expect(mean).toBeCloseTo(days[0]!.mean[i]!, 9)
  expect({ ...again!, mean: 0, median: 0 }).toEqual({ ...days[0]!, mean: 0, median: 0 })
  expect(await store.damage.list()).toMatchObject([
    { what: 'hours', probe: 'row1', from: START + DAY, to: START + 2 * DAY, readings: 1440 },
  ])
  await store.close()
})

test('what came late into a thinned day comes back with its values', async () => {
  const file = await thinnedFile()
  const backup = `${file}-backup`
  copyFileSync(file, backup)
  const before = await open(file)
  const hours = await bucketsOf(before.store, 'hour')
  const days = await bucketsOf(before.store, 'day')
  await before.store.close()
  expect(hours[0]!.count[24]).toBe(61)
  withinDatabase(file, (db) => {
    const of = `WHERE start = ${START + DAY}`
    const { body } = db.prepare(`SELECT body FROM block ${of}`).get() as { body: Uint8Array }
    body[6] = body[6]! ^ 8
    db.prepare(`UPDATE block SET body = ? ${of}`).run(body)
  })
  const { store, told } = await open(file)
  expect((await bucketsOf(store, 'hour'))[0]!.count[24]).toBe(60)
  expect(told).toHaveLength(1)
  expect(await store.damage.bringBack(backup, { at: 1 })).toMatchObject({ readings: 1441 })
  expect(await bucketsOf(store, 'hour')).toEqual(hours)
  expect(await bucketsOf(store, 'day')).toEqual(days)
  expect(await store.damaged()).toBeNull()
  await store.close()
})

test('hours of which any byte was changed are damage, never other figures', () => {
  const stats = { n: 3, low: 1, mean: 2, high: 3, median: 2 }
  const hours = Array.from({ length: 24 }, (_, i) => (i % 3 === 0 ? stats : null))
  const whole = encodeHours(new Map([['m1', { day: stats, hours }]]), 3)
  expect(openHours(whole).of('m1')).toEqual({ day: stats, hours })
  for (let at = 0; at < whole.length; at++) {
    for (const bit of [1, 0x40]) {
      const changed = Uint8Array.from(whole)
      changed[at] = changed[at]! ^ bit
      expect(() => openHours(changed), `byte ${at}`).toThrow(DamagedContent)
    }
    expect(() => openHours(whole.subarray(0, at)), `cut at ${at}`).toThrow(DamagedContent)
  }
})

test('what had no seal is read to its end before it gets one', () => {
  const stats = { n: 3, low: 1, mean: 2, high: 3, median: 2 }
  const hours = Array.from({ length: 24 }, () => stats)
  const whole = encodeHours(new Map([['m1', { day: stats, hours }]]), 72)
  const bare = whole.slice(0, -SEAL)
  bare[0] = 1
  expect(sealedHours(bare)).toEqual(whole)
  expect(sealedHours(bare.subarray(0, -1))).toBeNull()
  expect(sealedHours(Uint8Array.of(...bare, 0))).toBeNull()
  expect(sealedHours(whole)).toBeNull()
})
