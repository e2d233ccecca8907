import { join } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import type { HubError } from '#hub/errors.ts'
import { DAY } from '#hub/model/clock.ts'
import type { BucketQuery } from '#hub/model/series.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { packIntake } from '#hub/store/sqlite/packed-intake.ts'
import { seededRandom } from '#tests/support/random.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { withinDatabase } from '#tests/support/within-database.ts'

const fail = (error: Error): never => {
  throw error
}
const both = (seq: number) =>
  batchOf({ readings: [sampleReading({ seq }), sampleReading({ probe: 'row2', seq })] })

function newFile(): string {
  const folder = tempDir()
  onTestFinished(() => folder[Symbol.dispose]())
  return join(folder.path, 'readings.db')
}

/** A store that hears of damage and of nothing else. */
async function open(file: string) {
  const told: HubError[] = []
  const watch = { onDeath: fail, onTrouble: fail, onDamage: (error: HubError) => told.push(error) }
  return { store: await openReadingStore(file, watch), told }
}

/** Changes one byte of the newest block of a probe; answers what it holds now. */
const spoilNewest = (file: string, probe: string): Uint8Array =>
  withinDatabase(file, (db) => {
    const found = db
      .prepare(
        `SELECT block.id, body FROM block JOIN probe ON probe.id = block.probe
         WHERE name = ? ORDER BY start DESC LIMIT 1`,
      )
      .get(probe) as { id: number; body: Uint8Array }
    const body = Uint8Array.from(found.body)
    body[5] = body[5]! ^ 1
    db.prepare('UPDATE block SET body = ? WHERE id = ?').run(body, found.id)
    return body
  })

const damagedIn = (file: string) =>
  withinDatabase(file, (db) =>
    db
      .prepare('SELECT part, place, n, body FROM damaged')
      .all()
      .map((row) => ({ ...row })),
  )

test('a damaged block of the running day moves aside; that day goes on for its probe and the others', async () => {
  const file = newFile()
  const first = await open(file)
  for (let seq = 0; seq < 5; seq++) await first.store.append(both(seq))
  await first.store.settle()
  await first.store.close()
  const body = spoilNewest(file, 'row1')

  const { store, told } = await open(file)
  await store.append(both(5))
  await store.settle()
  const raw = async (probe: string) =>
    (await store.buckets([{ probe, channel: 'e1', from: 0, to: 9e15, step: 'raw' }]))[0]!.time
      .length
  expect([await raw('row1'), await raw('row2')]).toEqual([1, 6])
  expect(told.map(({ message }) => message)).toEqual([
    expect.stringMatching(
      /readings\.db: 5 readings of row1 from 2025-06-15T.* are damaged .*: npm run loamline -- damaged, or on the page Settings, Storage\.$/,
    ),
  ])
  expect(await store.damaged()).toMatchObject({ parts: 1, readings: 5 })
  // Its spans are gone too: what comes again is not looked for in it, and stored.
  expect(await store.recall('row1', 1)).toMatchObject({ ahead: [5] })
  await store.append(both(4))
  await store.settle()
  expect([await raw('row1'), await raw('row2')]).toEqual([2, 6])
  expect(await store.counts()).toMatchObject({ readings: 8, duplicates: 1, quarantined: 0 })
  await store.close()
  expect(damagedIn(file)).toEqual([{ part: 'block', place: Date.UTC(2025, 5, 15), n: 5, body }])

  const again = await open(file)
  await again.store.settle()
  expect(again.told).toEqual([])
  expect(await again.store.damaged()).toMatchObject({ parts: 1, readings: 5 })
  await again.store.close()
})

test('recalling a boot puts a damaged block aside, and remembers the others', async () => {
  const file = newFile()
  const first = await open(file)
  for (const seq of [0, 1, 200, 201]) await first.store.append(both(seq))
  await first.store.settle()
  await first.store.close()
  spoilNewest(file, 'row1')
  const { store, told } = await open(file)
  expect(await store.recall('row1', 1)).toMatchObject({ ahead: [0, 1], newest: { uptimeS: 603 } })
  expect(await store.recall('row2', 1)).toMatchObject({ ahead: [0, 1, 200, 201] })
  expect(told).toHaveLength(1)
  await store.close()
})

test.for([
  ['the length of its head', 1],
  ['its head', 6],
  ['its last byte', -1],
])('a row of the log with %s changed moves aside, and the others settle', async ([, at]) => {
  const file = newFile()
  const first = await open(file)
  await first.store.append(both(0))
  await first.store.settle()
  await first.store.close()
  const bodies = [1, 2, 3].map((seq) => packIntake(both(seq).readings, []))
  const spoilt = bodies[1]!
  const place = (Number(at) + spoilt.length) % spoilt.length
  spoilt[place] = spoilt[place]! ^ 0x40
  withinDatabase(file, (db) => {
    for (const body of bodies)
      db.prepare('INSERT INTO log (readings, body) VALUES (2, ?)').run(body)
  })
  const { store, told } = await open(file)
  expect(await store.counts()).toMatchObject({ readings: 6 })
  expect(told.map(({ message }) => message)).toEqual([
    expect.stringContaining('a batch of 2 readings that waited in the log'),
  ])
  await store.append(both(4))
  await store.settle()
  expect(await store.recall('row2', 1)).toMatchObject({ ahead: [0, 1, 3, 4] })
  await store.close()
  expect(damagedIn(file)).toMatchObject([{ part: 'log', n: 2, body: Uint8Array.from(spoilt) }])
})

test('of a thinned day whose names were changed the hours stay, and a late reading counts into them', async () => {
  const file = newFile()
  const start = Date.UTC(2025, 5, 1)
  const random = seededRandom(6)
  // Values that hours are smaller than.
  const day = (seq: number) =>
    sampleReading({ seq, at: start + seq * 60_000, values: { m1: random() } })
  const hours = async (store: ReadingStore) => {
    const query = { probe: 'row1', channel: 'm1', from: start, to: start + DAY, step: 'hour' }
    const [found] = await store.buckets([query as BucketQuery])
    return [...found!.count]
  }
  const first = await open(file)
  // A day and a half: the newest day of a probe is never thinned.
  const readings = Array.from({ length: 2160 }, (_, seq) => day(seq))
  await first.store.append(batchOf({ readings }))
  await first.store.settle()
  expect(await first.store.upkeep!.thin(start + DAY)).toMatchObject({ readings: 1440 })
  expect(await hours(first.store)).toEqual(Array(24).fill(60))
  await first.store.close()
  withinDatabase(file, (db) =>
    db.exec(`UPDATE block SET body = CAST(x'00' || body AS BLOB) WHERE thinned = 1`),
  )

  const { store, told } = await open(file)
  const late = sampleReading({ seq: 5000, at: start + 30_000, values: { m1: 1 } })
  await store.append(batchOf({ readings: [late] }))
  await store.settle()
  expect(told).toHaveLength(1)
  expect(await hours(store)).toEqual([61, ...Array(23).fill(60)])
  expect(await store.damaged()).toMatchObject({ parts: 1, readings: 1440 })
  await store.close()
})

test.for([
  ['pruning', (store: ReadingStore) => store.prune(Date.UTC(2025, 5, 15, 18))],
  ['making days anew', (store: ReadingStore) => store.rebuild()],
] as const)('%s goes on past a damaged block', async ([, work]) => {
  const file = newFile()
  const first = await open(file)
  for (let seq = 0; seq < 5; seq++) await first.store.append(both(seq))
  await first.store.settle()
  await first.store.close()
  spoilNewest(file, 'row1')
  const { store, told } = await open(file)
  await work(store)
  expect(told.map(({ message }) => message)).toEqual([
    expect.stringContaining('5 readings of row1'),
  ])
  await store.close()
})
