import { copyFileSync } from 'node:fs'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { expect, onTestFinished, test } from 'vitest'
import type { HubError } from '#hub/errors.ts'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import type { Buckets, BucketQuery, Step } from '#hub/model/series.ts'
import type { BroughtBack } from '#hub/store/damage.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { packIntake } from '#hub/store/sqlite/packed-intake.ts'
import { seededRandom } from '#tests/support/random.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { withinDatabase } from '#tests/support/within-database.ts'

const START = Date.UTC(2025, 5, 1)
const DAYS = 3
const SETTLED_AT = 1_760_000_000_000
const fail = (error: Error): never => {
  throw error
}

async function open(file: string) {
  const told: string[] = []
  const onDamage = ({ message }: HubError): void => void told.push(message)
  const store = await openReadingStore(file, { onDeath: fail, onTrouble: fail, onDamage })
  onTestFinished(() => store.close())
  return { store, told }
}

const random = seededRandom(8)
const VALUES = Array.from({ length: (DAYS * DAY) / MINUTE + 60 }, () => random())
const reading = (probe: string, seq: number) =>
  sampleReading({ probe, seq, at: START + seq * MINUTE, values: { m1: VALUES[seq]! } })
const PER_DAY = DAY / MINUTE
const seqs = (from: number, to: number): number[] =>
  Array.from({ length: to - from }, (_, i) => from + i)

/** A file of two probes that read every minute for three days and an hour, closed in order. */
async function sample(options: { thin?: boolean } = {}): Promise<{ file: string; backup: string }> {
  const folder = tempDir()
  onTestFinished(() => folder[Symbol.dispose]())
  const file = join(folder.path, 'readings.db')
  const watch = { onDeath: fail, onTrouble: fail }
  const store = await openReadingStore(file, watch)
  for (const probe of ['row1', 'row2']) {
    const readings = seqs(0, VALUES.length).map((seq) => reading(probe, seq))
    await store.append(batchOf({ readings }))
  }
  await store.settle()
  if (options.thin === true) await store.upkeep!.thin(START + DAYS * DAY)
  await store.close()
  const backup = join(folder.path, 'backup.db')
  copyFileSync(file, backup)
  return { file, backup }
}

/** Changes a byte of what lies at the beginning of a day of row1. */
const spoil = (file: string, day: number, column: 'body' | 'hours' = 'body'): void =>
  withinDatabase(file, (db) => {
    const start = START + day * DAY
    const row = db
      .prepare(
        `SELECT block.id, ${column} AS bytes FROM block JOIN probe ON probe.id = block.probe
         WHERE name = 'row1' AND start = ?`,
      )
      .get(start) as { id: number; bytes: Uint8Array }
    const bytes = Uint8Array.from(row.bytes)
    bytes[7] = bytes[7]! ^ 0x10
    db.prepare(`UPDATE block SET ${column} = ? WHERE id = ?`).run(bytes, row.id)
  })

async function read(store: ReadingStore, probe: string, step: Step): Promise<Buckets> {
  const query: BucketQuery = { probe, channel: 'm1', from: START, to: START + 4 * DAY, step }
  return (await store.buckets([query]))[0]!
}
const countsByDay = async (store: ReadingStore, probe = 'row1'): Promise<number[]> => {
  const { time } = await read(store, probe, 'raw')
  return seqs(0, DAYS + 1).map(
    (day) => time.filter((t) => Math.floor((t - START) / DAY) === day).length,
  )
}
async function bringBack(store: ReadingStore, backup: string): Promise<BroughtBack> {
  const brought = await store.damage.bringBack(backup, { at: SETTLED_AT })
  if ('refused' in brought) throw new Error(brought.refused)
  return brought
}
const WHOLE = [PER_DAY, PER_DAY, PER_DAY, 60]

test('a page that meets a damaged day shows the rest, and the day is put aside and counted', async () => {
  const { file } = await sample()
  spoil(file, 1)
  const { store, told } = await open(file)
  const days = await read(store, 'row1', 'day')
  expect(told).toEqual([])
  expect(await countsByDay(store)).toEqual([PER_DAY, 0, PER_DAY, 60])
  expect(told).toEqual([expect.stringContaining('1440 readings of row1 from 2025-06-02')])
  expect(await store.damaged()).toMatchObject({ parts: 1, readings: PER_DAY })
  const gap = {
    probe: 'row1',
    what: 'readings',
    from: START + DAY,
    to: START + 2 * DAY,
    readings: PER_DAY,
  }
  const gaps = (from: number, to: number, probes = ['row1', 'row2']) =>
    store.damage.within(probes, from, to)
  expect(await gaps(START, START + 4 * DAY)).toEqual([{ ...gap, gone: false }])
  expect(await gaps(START + 1.5 * DAY, START + 1.6 * DAY)).toHaveLength(1)
  expect(await gaps(START + 2 * DAY, START + 4 * DAY)).toEqual([])
  expect(await gaps(START, START + DAY)).toEqual([])
  expect(await gaps(START, START + 4 * DAY, ['row2'])).toEqual([])
  // Hours are made of readings; the row of the day was made when they were there, and stays.
  expect((await read(store, 'row1', 'hour')).time).toHaveLength(2 * 24 + 1)
  expect(await read(store, 'row1', 'day')).toEqual(days)
  expect(await countsByDay(store, 'row2')).toEqual(WHOLE)
  expect(told).toHaveLength(1)
})

test('the newest readings are told past a damaged day', async () => {
  const { file } = await sample()
  spoil(file, 3)
  const { store, told } = await open(file)
  expect((await store.newest('row1', 2)).map(({ seq }) => seq)).toEqual([
    DAYS * PER_DAY - 1,
    DAYS * PER_DAY - 2,
  ])
  expect(told).toHaveLength(1)
  expect(await store.damaged()).toMatchObject({ parts: 1, readings: 60 })
})

test('what is damaged in a store that cannot be written is left out and still there', async () => {
  const { file } = await sample()
  spoil(file, 1)
  const { store, told } = await open(file)
  const other = new DatabaseSync(file)
  try {
    // Somebody else holds it for longer than the hub waits.
    other.exec('BEGIN IMMEDIATE')
    expect(await countsByDay(store)).toEqual([PER_DAY, 0, PER_DAY, 60])
    expect(told).toEqual([])
    other.exec('ROLLBACK')
  } finally {
    other.close()
  }
  expect(await store.damaged()).toBeNull()
  expect(await countsByDay(store)).toEqual([PER_DAY, 0, PER_DAY, 60])
  expect(told).toHaveLength(1)
})

test('bytes come out as they were found until somebody says that they are gone', async () => {
  const { file } = await sample()
  spoil(file, 1)
  const { store } = await open(file)
  await countsByDay(store)
  const [part] = await store.damage.list()
  expect(part).toMatchObject({ what: 'readings', readings: PER_DAY, now: 0, settled: null })
  const bytes = await store.damage.bytes(part!.id)
  expect(bytes).toHaveLength(part!.bytes)
  expect(withinDatabase(file, (db) => db.prepare('SELECT body FROM damaged').get())).toEqual({
    body: bytes,
  })
  expect(await store.damage.gone(part!.id + 1, SETTLED_AT)).toBe(false)
  expect(await store.damage.gone(part!.id, SETTLED_AT)).toBe(true)
  expect(await store.damage.gone(part!.id, SETTLED_AT + 1)).toBe(false)
  expect(await store.damaged()).toBeNull()
  expect(await store.damage.bytes(part!.id)).toBeNull()
  expect(await store.damage.list()).toMatchObject([
    { bytes: 0, readings: PER_DAY, settled: { at: SETTLED_AT, how: 'gone' } },
  ])
  // The gap stays told.
  expect(await store.damage.within(['row1'], START, START + 4 * DAY)).toMatchObject([
    { gone: true },
  ])
  await store.prune(START + 2 * DAY)
  expect(await store.damage.list()).toEqual([])
})

test('readings of a damaged day come back out of a backup, each once, whatever came again meanwhile', async () => {
  const { file, backup } = await sample()
  spoil(file, 1)
  const { store } = await open(file)
  const before = { counts: await store.counts(), accounts: await store.accounts('row1') }
  const [hours, days] = [await read(store, 'row2', 'hour'), await read(store, 'row1', 'day')]
  await countsByDay(store)
  // Some of them the probe still had.
  await store.append(batchOf({ readings: seqs(2000, 2005).map((seq) => reading('row1', seq)) }))
  await store.settle()
  const heard: unknown[] = []
  store.onSettled((settled) => heard.push(settled))
  const shares: number[] = []
  const brought = await store.damage.bringBack(backup, {
    at: SETTLED_AT,
    tell: (share) => shares.push(share),
  })
  const [part] = await store.damage.list()
  expect(brought).toEqual({
    parts: [{ id: part!.id, found: PER_DAY, of: PER_DAY, why: null }],
    readings: PER_DAY - 5,
  })
  expect(shares).toEqual([1])
  expect(heard).toEqual([{ probes: ['row1'], from: START + DAY, to: START + 2 * DAY - MINUTE }])
  expect(part).toMatchObject({
    bytes: 0,
    back: PER_DAY,
    now: PER_DAY,
    settled: { at: SETTLED_AT, how: 'back' },
  })
  expect(await store.damaged()).toBeNull()
  expect(await store.damage.within(['row1'], START, START + 4 * DAY)).toEqual([])
  expect(await countsByDay(store)).toEqual(WHOLE)
  const raw = await read(store, 'row1', 'raw')
  expect([...raw.mean]).toEqual(VALUES)
  expect((await read(store, 'row1', 'hour')).mean).toEqual(hours.mean)
  expect(await read(store, 'row1', 'day')).toEqual(days)
  expect(await store.counts()).toEqual(before.counts)
  // Only what the probe sent again was counted a second time.
  expect(await store.accounts('row1')).toMatchObject([
    { received: before.accounts[0]!.received + 5, duplicates: 0 },
  ])
  // They are known again.
  await store.append(batchOf({ readings: seqs(1500, 1503).map((seq) => reading('row1', seq)) }))
  await store.settle()
  expect(await store.counts()).toEqual({ ...before.counts, duplicates: 3 })
  // Again changes nothing.
  expect(await store.damage.bringBack(backup, { at: SETTLED_AT })).toEqual({
    parts: [],
    readings: 0,
  })
})

test('a backup that has some of a day brings these; the rest stays open', async () => {
  const { file, backup } = await sample()
  withinDatabase(backup, (db) => {
    const of = `probe = (SELECT id FROM probe WHERE name = 'row1')`
    db.exec(
      `DELETE FROM span WHERE ${of}; DELETE FROM block WHERE ${of} AND start >= ${START + DAY}`,
    )
  })
  spoil(file, 0)
  spoil(file, 1)
  const { store } = await open(file)
  await countsByDay(store)
  const { parts, readings } = await bringBack(store, backup)
  expect(readings).toBe(PER_DAY)
  expect(parts.toSorted((a, b) => a.id - b.id)).toMatchObject([
    { found: PER_DAY, of: PER_DAY },
    { why: 'nothing' },
  ])
  expect(await countsByDay(store)).toEqual([PER_DAY, 0, PER_DAY, 60])
  expect(await store.damaged()).toMatchObject({ parts: 1, readings: PER_DAY })
})

test('a backup made in the middle of a day settles nothing, and a later one brings the rest', async () => {
  const { file, backup } = await sample()
  const early = `${backup}-early`
  const half = await openReadingStore(early, { onDeath: fail, onTrouble: fail })
  await half.append(
    batchOf({ readings: seqs(0, 1.5 * PER_DAY).map((seq) => reading('row1', seq)) }),
  )
  await half.settle()
  await half.close()
  spoil(file, 1)
  const { store } = await open(file)
  await countsByDay(store)
  expect(await store.damage.bringBack(early, { at: SETTLED_AT })).toMatchObject({
    parts: [{ found: PER_DAY / 2, of: PER_DAY }],
    readings: PER_DAY / 2,
  })
  expect(await store.damage.list()).toMatchObject([
    { back: PER_DAY / 2, now: PER_DAY / 2, settled: null },
  ])
  expect(await store.damage.bringBack(backup, { at: SETTLED_AT })).toMatchObject({
    parts: [{ found: PER_DAY, of: PER_DAY }],
    readings: PER_DAY / 2,
  })
  expect(await countsByDay(store)).toEqual(WHOLE)
  expect(await store.damaged()).toBeNull()
})

test('a backup made after a day was damaged settles nothing, however many readings came later', async () => {
  const { file, backup } = await sample()
  spoil(file, 3)
  const { store } = await open(file)
  expect(await countsByDay(store)).toEqual([PER_DAY, PER_DAY, PER_DAY, 0])
  const first = DAYS * PER_DAY
  const later = seqs(first + 100, first + 200).map((seq) =>
    sampleReading({ probe: 'row1', seq, at: START + seq * MINUTE, values: { m1: 3 } }),
  )
  await store.append(batchOf({ readings: later }))
  await store.settle()
  await store.close()
  copyFileSync(file, `${backup}-after`)
  const { store: again } = await open(file)
  expect(await bringBack(again, `${backup}-after`)).toMatchObject({ readings: 0 })
  expect(await again.damaged()).toMatchObject({ parts: 1, readings: 60 })
  expect((await again.damage.bytes((await again.damage.list())[0]!.id))!.length).toBeGreaterThan(0)
  expect(await bringBack(again, backup)).toMatchObject({ readings: 60 })
  expect(await again.damaged()).toBeNull()
  expect(await countsByDay(again)).toEqual([PER_DAY, PER_DAY, PER_DAY, 160])
})

test('the part of today that was damaged is told as missing, however much comes later', async () => {
  using folder = tempDir()
  const file = join(folder.path, 'readings.db')
  const today = Math.floor(Date.now() / DAY) * DAY
  const readings = (from: number, to: number) =>
    seqs(from, to).map((seq) =>
      sampleReading({ probe: 'row1', seq, at: today + seq * MINUTE, values: { m1: 3 } }),
    )
  const first = await openReadingStore(file, { onDeath: fail, onTrouble: fail })
  await first.append(batchOf({ readings: readings(0, 60) }))
  await first.settle()
  await first.close()
  spoil(file, (today - START) / DAY)
  const { store } = await open(file)
  await store.append(batchOf({ readings: readings(100, 400) }))
  await store.settle()
  expect(await store.damage.within(['row1'], today, today + DAY)).toMatchObject([
    { from: today, readings: 60 },
  ])
})

test('hours damaged before a backup was made are looked for in an older one', async () => {
  const { file, backup } = await sample({ thin: true })
  spoil(file, 1, 'hours')
  const { store } = await open(file)
  const left = (await read(store, 'row1', 'hour')).time.length
  await store.close()
  copyFileSync(file, `${backup}-after`)
  const { store: again } = await open(file)
  await bringBack(again, `${backup}-after`)
  expect(await again.damaged()).toMatchObject({ parts: 1 })
  expect((await again.damage.bytes((await again.damage.list())[0]!.id))!.length).toBeGreaterThan(0)
  await bringBack(again, backup)
  expect(await again.damaged()).toBeNull()
  expect((await read(again, 'row1', 'hour')).time.length).toBe(left + 24)
})

test('a batch that comes back takes no account of a boot back to where it was then', async () => {
  const { file, backup } = await sample()
  const at = START + 10 * DAY
  const mark = (top: number, lost: number) => ({
    probe: 'row1',
    boot: 5,
    top,
    lost,
    missing: 0,
    highest: top,
    lastAt: START,
  })
  const early = [0, 1].map((seq) =>
    sampleReading({ boot: 5, seq, at: at + seq, values: { m1: 5 } }),
  )
  const body = packIntake(early, [mark(1, 0)])
  const add = (to: string, bytes: Uint8Array): void =>
    withinDatabase(to, (db) => {
      db.prepare('INSERT INTO log (i, readings, body) VALUES (77, 2, ?)').run(bytes)
    })
  add(backup, body)
  const spoilt = Uint8Array.from(body)
  spoilt[9] = spoilt[9]! ^ 2
  add(file, spoilt)
  const { store } = await open(file)
  const late = sampleReading({ boot: 5, seq: 50, at: at + DAY, values: { m1: 5 } })
  await store.append(batchOf({ readings: [late], marks: [mark(50, 48)] }))
  await store.settle()
  const before = await store.recall('row1', 5)
  expect(before).toMatchObject({ mark: { top: 50, lost: 48 } })
  expect(await bringBack(store, backup)).toMatchObject({ readings: 2 })
  expect(await store.recall('row1', 5)).toMatchObject({ mark: { top: 50, lost: 48, highest: 50 } })
  expect(await store.counts()).toMatchObject({ lost: 48 })
})

test('a backup in which the day has become hours does not stand in for its readings', async () => {
  const { file } = await sample()
  const { backup } = await sample({ thin: true })
  spoil(file, 1)
  const { store } = await open(file)
  await countsByDay(store)
  expect(await store.damage.bringBack(backup, { at: SETTLED_AT })).toMatchObject({
    parts: [{ why: 'hours only' }],
    readings: 0,
  })
  expect(await store.damaged()).toMatchObject({ parts: 1 })
})

test.for(['thinned', 'whole'] as const)(
  'names and hours of a thinned day come back out of a backup that is %s, and count once',
  async (kind) => {
    const { file, backup: thinned } = await sample({ thin: true })
    const backup = kind === 'thinned' ? thinned : (await sample()).backup
    const before = await open(file)
    const hours = await read(before.store, 'row1', 'hour')
    const days = await read(before.store, 'row1', 'day')
    const counts = await before.store.counts()
    const size = await before.store.upkeep!.size()
    await before.store.close()
    spoil(file, 1)
    spoil(file, 1, 'hours')

    const { store, told } = await open(file)
    expect((await read(store, 'row1', 'hour')).time).toHaveLength(2 * 24 + 1)
    expect(told).toHaveLength(2)
    expect((await store.damage.list()).map(({ what }) => what).toSorted()).toEqual([
      'hours',
      'names',
    ])
    expect(await read(store, 'row1', 'day')).toEqual(days)
    // Only the hours are a gap for whoever looks.
    expect(await store.damage.within(['row1'], START, START + 4 * DAY)).toHaveLength(1)
    const brought = await bringBack(store, backup)
    expect(brought.readings).toBe(PER_DAY)
    expect(await store.damaged()).toBeNull()
    expect(await store.damage.within(['row1'], START, START + 4 * DAY)).toEqual([])
    expect(await read(store, 'row1', 'hour')).toEqual(hours)
    expect(await read(store, 'row1', 'day')).toEqual(days)
    expect(await store.counts()).toEqual(counts)
    expect(await store.upkeep!.size()).toMatchObject({
      readings: size.readings,
      values: size.values,
      hours: size.hours,
      hourBytes: size.hourBytes,
    })
    // Its names are known again.
    await store.append(batchOf({ readings: [reading('row1', 2000)] }))
    await store.settle()
    expect(await store.counts()).toEqual({ ...counts, duplicates: 1 })
    expect(await read(store, 'row1', 'hour')).toEqual(hours)
  },
)

test('a batch that waited in the log comes back out of a backup made while it waited', async () => {
  const { file, backup } = await sample()
  const readings = [0, 1].map((i) =>
    sampleReading({ seq: 9000 + i, at: START + 10 * DAY + i, values: { m1: 5 } }),
  )
  const body = packIntake(readings, [])
  const add = (to: string, bytes: Uint8Array) =>
    withinDatabase(to, (db) =>
      db.prepare('INSERT INTO log (i, readings, body) VALUES (77, 2, ?)').run(bytes),
    )
  add(backup, body)
  const spoilt = Uint8Array.from(body)
  spoilt[9] = spoilt[9]! ^ 2
  add(file, spoilt)
  const { store, told } = await open(file)
  expect(told).toHaveLength(1)
  const [part] = await store.damage.list()
  expect(part).toMatchObject({ what: 'batch', probe: null, from: null, to: null, now: null })
  const counts = await store.counts()
  expect(await store.damage.bringBack(backup, { at: SETTLED_AT })).toEqual({
    parts: [{ id: part!.id, found: 2, of: 2, why: null }],
    readings: 2,
  })
  expect(await store.counts()).toEqual({ ...counts, readings: counts.readings + 2 })
  expect(await store.damaged()).toBeNull()
})

test('a backup that is damaged itself brings what can be read of it', async () => {
  const { file, backup } = await sample()
  spoil(file, 0)
  spoil(file, 1)
  spoil(backup, 1)
  const { store } = await open(file)
  await countsByDay(store)
  const { parts } = await bringBack(store, backup)
  expect(parts.toSorted((a, b) => a.id - b.id)).toMatchObject([
    { found: PER_DAY, of: PER_DAY },
    { why: 'nothing' },
  ])
  expect(await countsByDay(store)).toEqual([PER_DAY, 0, PER_DAY, 60])
})

test('broken off before it was noted, it is gone through again and settled', async () => {
  const { file, backup } = await sample()
  spoil(file, 1)
  const first = await openReadingStore(file, { onDeath: fail, onTrouble: fail, onDamage: () => {} })
  await countsByDay(first)
  await bringBack(first, backup)
  await first.close()
  // Readings and note are two commits.
  withinDatabase(file, (db) =>
    db.exec(`UPDATE damaged SET back = 0, settled_at = NULL, outcome = NULL, body = x'01'`),
  )
  const { store } = await open(file)
  expect(await bringBack(store, backup)).toMatchObject({
    parts: [{ found: PER_DAY, of: PER_DAY }],
    readings: 0,
  })
  expect(await countsByDay(store)).toEqual(WHOLE)
  expect(await store.damaged()).toBeNull()
})

test('a database that is no file of readings is refused by name', async () => {
  const { file, backup } = await sample()
  spoil(file, 1)
  withinDatabase(backup, (db) => db.exec('ALTER TABLE block RENAME TO another'))
  const { store } = await open(file)
  await countsByDay(store)
  expect(await store.damage.bringBack(backup, { at: SETTLED_AT })).toEqual({
    refused: expect.stringContaining('cannot be read as such (no such table: block)'),
  })
  expect(await store.damaged()).toMatchObject({ parts: 1 })
})
