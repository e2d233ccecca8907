import { statSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import type { Quarantined } from '#hub/model/reading.ts'
import { openStores } from '#hub/store/open.ts'
import { migrate } from '#hub/store/sqlite/migrate.ts'
import { openDatabase, rowsOf, transact, type Database } from '#hub/store/sqlite/open-database.ts'
import { quarantine } from '#hub/store/sqlite/quarantine.ts'
import { packIntoBlocks } from '#hub/store/sqlite/to-blocks.ts'
import { tempDir } from '../../../support/temp-dir.ts'

const AT = Date.UTC(2026, 4, 1)
const KIB = 1024

const message = (i: number, bytes = 1000): Quarantined => ({
  arrivedAt: AT + i,
  topic: `lm1/rook${i}/up/r`,
  payload: new Uint8Array(bytes).fill(120),
  reason: 'JSON: expected an object',
})
const contradiction = (probe: string, seq: number, bytes = 1000) => ({
  ...message(seq, bytes),
  topic: `${probe}/1/${seq}`,
  same: `${probe}/1/${seq} [1]`,
})

function readings(file: string): Database {
  const db = openDatabase(file)
  migrate(db, new URL('../../../../hub/store/migrations/readings/', import.meta.url), file, {
    3: packIntoBlocks,
  })
  return db
}
const topics = (db: Database): string[] =>
  rowsOf<{ topic: string }>(db.prepare('SELECT topic FROM quarantine ORDER BY id')).map(
    (row) => row.topic,
  )
const tally = (db: Database, name: string): number =>
  rowsOf<{ n: number }>(db.prepare('SELECT n FROM tally WHERE name = ?'), name)[0]?.n ?? 0

test('whatever comes, the newest stay, the rest is counted, and the file does not grow', async () => {
  using dir = tempDir()
  const stores = await openStores(dir.path)
  const kept = 64 * 1024 * KIB
  const size = 4000
  // A quarter more than there is room for, each message nearly as long as one may be.
  const all = Math.ceil((kept * 1.25) / size)
  for (let i = 0; i < all; i += 500) {
    const quarantined = Array.from({ length: Math.min(500, all - i) }, (_, k) =>
      message(i + k, size),
    )
    await stores.readings.append({ readings: [], anchors: [], marks: [], quarantined })
  }
  const counts = await stores.readings.counts()
  expect(counts.quarantined).toBe(all)
  const left = counts.quarantined - counts.quarantineDropped
  // With its topic, its reason and its place a message takes a few per cent more.
  expect(left * size).toBeLessThan(kept)
  expect(left * size).toBeGreaterThan(kept * 0.9)
  const newest = await stores.readings.quarantine(left + 10)
  expect(newest).toHaveLength(left)
  expect(newest[0]?.topic).toBe(`lm1/rook${all - 1}/up/r`)
  expect(newest.at(-1)?.topic).toBe(`lm1/rook${all - left}/up/r`)
  await stores.close()
  expect(statSync(join(dir.path, 'readings.db')).size).toBeLessThan(kept * 1.15)
}, 60_000)

test('contradictions stay while messages can go; then those of whoever has most of them go first', () => {
  using dir = tempDir()
  const db = readings(join(dir.path, 'readings.db'))
  const aside = quarantine(db, 100 * KIB)
  const add = (work: () => void): void =>
    transact(db, () => {
      work()
      aside.trim()
    })
  // Old ones of two probes, before and among messages.
  add(() => {
    expect(aside.contradict(contradiction('wren1', 0))).toBe(true)
    for (let i = 0; i < 20; i++) aside.add(message(i))
    expect(aside.contradict(contradiction('wren1', 1))).toBe(true)
    expect(aside.contradict(contradiction('wren1', 1))).toBe(false)
  })
  for (let i = 20; i < 500; i++) add(() => aside.add(message(i)))
  let there = topics(db)
  expect(there.slice(0, 2)).toEqual(['wren1/1/0', 'wren1/1/1'])
  expect(there.at(-1)).toBe('lm1/rook499/up/r')
  expect(there.length).toBeGreaterThan(80)
  expect(tally(db, 'quarantine dropped')).toBe(502 - there.length)

  // A probe gone wild contradicts itself without end: messages go, then its own.
  for (let i = 0; i < 500; i++) add(() => aside.contradict(contradiction('rook1', i)))
  there = topics(db)
  expect(there.slice(0, 2)).toEqual(['wren1/1/0', 'wren1/1/1'])
  expect(there.some((topic) => topic.startsWith('lm1/'))).toBe(false)
  expect(there.at(-1)).toBe('rook1/1/499')
  expect(there.length).toBeGreaterThan(70)
  expect(tally(db, 'quarantine dropped')).toBe(1002 - there.length)
  // A message that comes now has no room among them, and says so.
  add(() => aside.add(message(500, 40 * KIB)))
  expect(topics(db).some((topic) => topic.startsWith('lm1/'))).toBe(false)
  expect(tally(db, 'quarantine dropped')).toBe(1003 - topics(db).length)
  expect(tally(db, 'quarantine bytes')).toBeLessThanOrEqual(100 * KIB)
  db.close()
})

test('a transaction that fails changes nothing; a file of an older hub is brought down in steps', () => {
  using dir = tempDir()
  const db = readings(join(dir.path, 'readings.db'))
  const old = quarantine(db, Infinity)
  transact(db, () => {
    for (let i = 0; i < 5000; i++) old.add(message(i, 100))
  })
  db.exec(`DELETE FROM tally WHERE name = 'quarantine bytes'`)

  const aside = quarantine(db, 50 * KIB)
  expect(() =>
    transact(db, () => {
      aside.add(message(5000, 100))
      aside.trim()
      throw new Error('disk full')
    }),
  ).toThrow('disk full')
  expect(topics(db)).toHaveLength(5000)
  expect(tally(db, 'quarantine dropped')).toBe(0)

  const lengths: number[] = []
  for (let i = 5000; i < 5010; i++) {
    transact(db, () => {
      aside.add(message(i, 100))
      aside.trim()
    })
    lengths.push(topics(db).length)
  }
  expect(lengths[0]).toBeGreaterThan(3900)
  expect(lengths.at(-1)).toBeLessThan(300)
  expect(topics(db).at(-1)).toBe('lm1/rook5009/up/r')
  expect(tally(db, 'quarantine dropped')).toBe(5010 - lengths.at(-1)!)
  db.close()
})
