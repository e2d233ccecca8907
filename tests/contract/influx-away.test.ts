import { randomUUID } from 'node:crypto'
import { join } from 'node:path'
import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest'
import { HubError } from '#hub/errors.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import { openInfluxClient, type InfluxTarget } from '#hub/store/influx/influx-client.ts'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { backUp, restore } from '#hub/store/backup.ts'
import { openStores } from '#hub/store/open.ts'
import type { Reading } from '#hub/model/reading.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { delivered, heldThere, openInflux, targetOn } from '#tests/support/influx-store.ts'
import { seededRandom } from '#tests/support/random.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { startInfluxd, type Service } from '#tests/support/services/services.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

let influxd: Service
let target: InfluxTarget
beforeAll(async () => {
  influxd = await startInfluxd()
})
afterAll(() => influxd[Symbol.asyncDispose]())
beforeEach(() => {
  target = targetOn(influxd, `garden-${randomUUID().slice(0, 8)}`)
})

/** After a test that failed before it did so itself. */
const bringBack = (): Promise<void> =>
  influxd.start().catch((error: unknown) => {
    if (!String(error).includes('runs already')) throw error
  })

const ALWAYS = { from: -8.64e15, to: 8.64e15 }
const some = (from: number, n: number): Reading[] =>
  Array.from({ length: n }, (_, i) => sampleReading({ seq: from + i, values: { e1: from + i } }))
const append = (store: ReadingStore, readings: readonly Reading[]): Promise<void> =>
  store.append(batchOf({ readings }))
async function keep(store: ReadingStore, readings: readonly Reading[]): Promise<void> {
  await append(store, readings)
  await store.settle()
}
async function shown(store: ReadingStore, step: 'raw' | 'hour' = 'raw', channel = 'e1') {
  const [buckets] = await store.buckets([{ probe: 'row1', channel, ...ALWAYS, step }])
  return [...buckets!.mean]
}
const range = (n: number): number[] => Array.from({ length: n }, (_, i) => i)
/** A statement at the database itself, past the store. */
async function ask(statement: string): Promise<void> {
  const client = openInfluxClient(target)
  await client.query(statement)
  await client.close()
}

test('a hub that starts while it is away takes readings; with nothing known of the past, reads say so', async () => {
  using folder = tempDir()
  const away: string[] = []
  await influxd.stop()
  const store = await openInflux(folder.path, target, away)
  try {
    await append(store, some(0, 3))
    for (const call of [shown(store), store.settle()]) await expect(call).rejects.toThrow(HubError)
    await expect(shown(store)).rejects.toMatchObject({ code: 'HUB_STORE_UNAVAILABLE', retry: true })
    expect(await store.forwarding()).toMatchObject({ state: 'down' })
    expect((await store.forwarding())!.problem).toContain('ECONNREFUSED')
    expect(away).toHaveLength(1)
    await influxd.start()
    await until(
      'the past is known',
      () =>
        store.settle().then(
          () => true,
          () => false,
        ),
      20_000,
    )
    expect(await shown(store)).toEqual(range(3))
    await delivered(store)
    expect(await heldThere(target)).toEqual({ n: 3, sum: 3 })
  } finally {
    await store.close()
    await bringBack()
  }
})

test.for(['kill', 'freeze'] as const)(
  'while it is away (%s) readings are taken, and what was kept before is answered from the folder',
  { timeout: 60_000 },
  async (how) => {
    using folder = tempDir()
    const away: string[] = []
    const store = await openInflux(folder.path, target, away)
    try {
      await keep(store, some(0, 10))
      await delivered(store)
      await (how === 'kill' ? influxd.kill() : influxd.freeze())
      await keep(store, some(10, 5))
      expect(await shown(store)).toEqual(range(15))
      expect(await shown(store, 'hour')).not.toEqual([])
      const state = await until('it is told', async () => {
        const now = (await store.forwarding())!
        return now.state === 'down' && now.waiting === 5 ? now : null
      })
      expect(state.problem).toMatch(how === 'kill' ? /cannot be reached/ : /within 1.5 s/)
      await (how === 'kill' ? influxd.start() : influxd.thaw())
      await delivered(store)
      expect(await shown(store)).toEqual(range(15))
      expect(await heldThere(target)).toEqual({ n: 15, sum: 105 })
      // Each reason once, however often it was tried.
      expect(new Set(away).size).toBe(away.length)
    } finally {
      await store.close()
      await influxd.thaw().catch(() => {})
      await bringBack()
    }
  },
)

test('a folder that was lost is made again of what is there; what comes again is known', async () => {
  const at = (seq: number): number => sampleReading({ seq }).at
  const readings = [
    ...some(0, 3),
    sampleReading({ seq: 3, values: { e1: NaN, m1: 4 }, flags: 2, deviceAt: at(3) + 400 }),
    sampleReading({ seq: 4, placedBy: 'bounded', at: at(3) + 1, values: { e1: 9 } }),
    // Two in one millisecond, and a time with a fraction.
    sampleReading({ seq: 5, at: at(2), placedBy: 'anchors', values: { e1: 5 } }),
    sampleReading({ seq: 7, at: at(7) + 0.25, placedBy: 'device', values: { e1: 7 } }),
    sampleReading({ probe: 'row2', boot: 5_000_000_000, placedBy: 'file', values: { time: 1 } }),
  ]
  const seen = async (store: ReadingStore) => ({
    raw: await shown(store),
    hour: await shown(store, 'hour'),
    counts: await store.counts(),
    latest: await store.latest(),
    newest: await store.newest('row1', 9),
    accounts: [...(await store.accounts('row1')), ...(await store.accounts('row2'))],
  })
  using lost = tempDir()
  const before = await openInflux(lost.path, target)
  await keep(before, readings)
  await delivered(before)
  const was = await seen(before)
  await before.close()

  using folder = tempDir()
  const store = await openInflux(folder.path, target)
  try {
    const { mark, ahead, newest, anchors } = await store.recall('row1', 1)
    expect(mark).toMatchObject({ top: 5, highest: 7, missing: 1 })
    expect(ahead).toEqual([7])
    expect(newest).toEqual({ uptimeS: 3 + 3 * 600, at: at(3) })
    expect(anchors).not.toEqual([])
    const now = await seen(store)
    expect({ ...now, accounts: [] }).toEqual({ ...was, accounts: [] })
    // What was absent is derived from the numbers; nothing says any more what was written off.
    const counted = (of: typeof now.accounts) => of.map((account) => ({ ...account, missing: 0 }))
    expect(counted(now.accounts)).toEqual(counted(was.accounts))

    await keep(store, readings)
    expect(await store.counts()).toEqual({ ...was.counts, duplicates: readings.length })
    await keep(store, some(8, 1))
    await delivered(store)
    expect((await heldThere(target)).n).toBe(6)
  } finally {
    await store.close()
  }
})

test('a restored backup that is older than what is there reads back what it lacks', async () => {
  using place = tempDir()
  const data = join(place.path, 'data')
  const [backup, again] = [join(place.path, 'backup'), join(place.path, 'again')]
  const first = await openStores(data, { influx: target })
  await keep(first.readings, some(0, 5))
  await delivered(first.readings)
  await backUp(data, backup, { version: '1', now: Date.now() })
  await keep(first.readings, some(5, 5))
  await delivered(first.readings)
  await first.close()

  await restore(backup, again, { replace: false, now: Date.now() })
  // It must not take the resent reading for a new one, even while InfluxDB is away.
  await influxd.stop()
  const stores = await openStores(again, { influx: target })
  try {
    await stores.readings.append(batchOf({ readings: some(7, 1) }))
    await expect(stores.readings.settle()).rejects.toThrow(HubError)
    await influxd.start()
    await until(
      'the rest is read back',
      () =>
        stores.readings.settle().then(
          () => true,
          () => false,
        ),
      20_000,
    )
    expect(await stores.readings.counts()).toMatchObject({ readings: 10, duplicates: 1 })
    await delivered(stores.readings)
    expect(await heldThere(target)).toEqual({ n: 10, sum: 45 })
    expect(await shown(stores.readings)).toEqual(range(10))
  } finally {
    await stores.close()
    await bringBack()
  }
})

test('a folder that kept its readings alone sends all of them when an InfluxDB is set, and again after a pause', async () => {
  using folder = tempDir()
  const file = join(folder.path, 'readings.db')
  const fail = (error: Error): never => {
    throw error
  }
  const alone = await openReadingStore(file, { onDeath: fail, onTrouble: fail })
  await keep(alone, [...some(0, 4000), sampleReading({ seq: 4000, placedBy: 'bounded', at: 5 })])
  await alone.close()

  let store = await openInflux(folder.path, target)
  await delivered(store)
  expect((await heldThere(target)).n).toBe(4000)
  expect(await shown(store)).toEqual(range(4000))
  await store.close()

  // As it was before: what comes now is for nobody else.
  const meanwhile = await openReadingStore(
    file,
    { onDeath: fail, onTrouble: fail },
    { forward: false },
  )
  await keep(meanwhile, some(5000, 10))
  await meanwhile.close()
  store = await openInflux(folder.path, target)
  try {
    await delivered(store)
    expect((await heldThere(target)).n).toBe(4010)
    expect(await store.counts()).toMatchObject({ readings: 4011, duplicates: 0 })
  } finally {
    await store.close()
  }
})

test('what has become hours in the folder is whole there; while it is away it is not told as whole', async () => {
  using folder = tempDir()
  const store = await openInflux(folder.path, target)
  try {
    // Noise: what hardly changes takes less room as it is than as hours, and stays.
    const random = seededRandom(7)
    const n = 4 * 1440
    const start = Math.floor(sampleReading().at / DAY) * DAY
    const minutes = Array.from({ length: n }, (_, seq) =>
      sampleReading({ seq, at: start + seq * MINUTE, values: { e1: random() * 100 } }),
    )
    const values = minutes.map((one) => one.values[0]!.value)
    await keep(store, minutes)
    await delivered(store)
    const { readings } = await store.upkeep!.thin(start + 2 * DAY)
    expect(readings).toBe(2 * 1440)
    expect(await shown(store)).toEqual(values)
    await influxd.kill()
    await expect(shown(store)).rejects.toThrow('InfluxDB alone')
    const [late] = await store.buckets([
      { probe: 'row1', channel: 'e1', from: start + 2 * DAY, to: 8e15, step: 'raw' },
    ])
    expect(late!.time).toHaveLength(2 * 1440)
    expect(await shown(store, 'hour')).toHaveLength(4 * 24)
  } finally {
    await store.close()
    await bringBack()
  }
})

test('an InfluxDB that has lost its data gets everything again', { timeout: 40_000 }, async () => {
  using folder = tempDir()
  const store = await openInflux(folder.path, target)
  try {
    await keep(store, some(0, 10))
    await delivered(store)
    await ask(`DROP DATABASE "${target.database}"`)
    await keep(store, some(10, 1))
    await until(
      'all of it is there',
      async () => (await heldThere(target).catch(() => null))?.n === 11,
      20_000,
    )
    await delivered(store)
    expect(await shown(store)).toEqual(range(11))
  } finally {
    await store.close()
  }
})

test.for([
  { how: 'some hours old', from: 0 },
  { how: 'with readings of another folder alone', from: 100 },
])(
  'an InfluxDB put back from a copy ($how) gets again what it had confirmed',
  { timeout: 40_000 },
  async ({ from }) => {
    using folder = tempDir()
    using copied = tempDir()
    const aside = await openInflux(copied.path, target)
    let store: ReadingStore
    try {
      if (from > 0) {
        // What the copy holds is not this folder's.
        await keep(aside, some(from, 10))
        await delivered(aside)
      }
    } finally {
      await aside.close()
    }
    const held = from > 0 ? 10 : 0
    store = await openInflux(folder.path, target)
    await keep(store, some(0, 10))
    await delivered(store)
    await store.close()
    const client = openInfluxClient(target)
    try {
      const then = from > 0 ? [] : await client.query('SELECT * FROM "forwarded"')
      store = await openInflux(folder.path, target)
      await keep(store, some(10, 10))
      await delivered(store)
      await store.close()
      // As the copy had it.
      const gone = sampleReading({ seq: from > 0 ? 0 : 10 }).at
      const until = sampleReading({ seq: 20 }).at
      await client.query(`DELETE FROM "reading" WHERE time >= ${gone}ms AND time < ${until}ms`)
      await client.query('DROP MEASUREMENT "forwarded"')
      await client.write(
        then.map(
          ({ folder: name, row, sent, time }) =>
            `forwarded,folder=${String(name)} row=${Number(row)},sent=${Number(sent)} ${Number(time)}`,
        ),
      )
      store = await openInflux(folder.path, target)
      await delivered(store)
      expect(await shown(store)).toHaveLength(20 + held)
      expect((await heldThere(target)).n).toBe(20 + held)
      expect(await store.counts()).toMatchObject({ readings: 20 + held, duplicates: 0 })
      await keep(store, some(20, 1))
      await delivered(store)
      expect((await heldThere(target)).n).toBe(21 + held)
      await store.close()
      // It is known from now on: a folder that sends everything again does so under a new name.
      const names = () => client.query('SHOW TAG VALUES FROM "forwarded" WITH KEY = "folder"')
      const before = await names()
      store = await openInflux(folder.path, target)
      await keep(store, some(21, 1))
      await delivered(store)
      await store.close()
      expect(await names()).toEqual(before)
    } finally {
      await client.close()
    }
  },
)

test('a folder that waits for its first reading is known there: an outage before it sends nothing twice', async () => {
  using folder = tempDir()
  const client = openInfluxClient(target)
  const names = () => client.query('SHOW TAG VALUES FROM "forwarded" WITH KEY = "folder"')
  try {
    await (await openInflux(folder.path, target)).close()
    const name = await names()
    expect(name).toHaveLength(1)
    await influxd.stop()
    const store = await openInflux(folder.path, target)
    await keep(store, some(0, 10))
    await influxd.start()
    await delivered(store)
    await store.close()
    expect((await heldThere(target)).n).toBe(10)
    // Whoever sends everything anew does so under a new name.
    expect(await names()).toEqual(name)
  } finally {
    await client.close()
    await bringBack()
  }
})

test('a reading that is not taken there stays here, is shown and told, and is tried again at the next start', async () => {
  using folder = tempDir()
  await ask(`CREATE DATABASE "${target.database}"`)
  const client = openInfluxClient(target)
  const when = sampleReading({ seq: 1 }).at
  // Somebody else wrote whole numbers under the name of a channel, in the same stretch of time.
  await client.write(`reading,probe=elsewhere e1=1i ${when}`)
  await client.close()
  let store = await openInflux(folder.path, target)
  await keep(store, [
    sampleReading({ seq: 0, values: { m1: 1 } }),
    sampleReading({ seq: 1, values: { e1: 2 } }),
    sampleReading({ seq: 2, values: { m1: 3 } }),
  ])
  await delivered(store)
  expect(await store.forwarding()).toMatchObject({ waiting: 0, refused: 1 })
  expect((await store.forwarding())!.why).toContain('field type conflict')
  expect(await shown(store, 'raw', 'm1')).toEqual([1, 3])
  expect(await shown(store)).toEqual([2])
  expect(await shown(store, 'hour')).toEqual([2])
  await store.close()

  await ask(`DELETE FROM "reading" WHERE "probe" = 'elsewhere'`)
  await ask(`DROP SERIES FROM "reading" WHERE "probe" = 'elsewhere'`)
  await ask(`DROP MEASUREMENT "reading"`)
  store = await openInflux(folder.path, target)
  try {
    await delivered(store)
    expect(await store.forwarding()).toMatchObject({ waiting: 0, refused: 0, why: null })
    expect((await heldThere(target)).n).toBe(1)
  } finally {
    await store.close()
  }
})

test('a moment beyond what InfluxDB can hold is kept here', async () => {
  using folder = tempDir()
  const store = await openInflux(folder.path, target)
  try {
    const far = 9_300_000_000_000
    await keep(store, [...some(0, 2), sampleReading({ seq: 2, at: far, values: { e1: 2 } })])
    await delivered(store)
    expect(await store.forwarding()).toMatchObject({ refused: 1 })
    expect(await shown(store)).toEqual([0, 1, 2])
    expect(await shown(store, 'hour')).toHaveLength(2)
    expect(await store.prune(far - HOUR)).toBe(2)
    expect(await shown(store)).toEqual([2])
  } finally {
    await store.close()
  }
})

test('with a password: the hub goes in as one who may; as one who may not it says which settings to look at', async () => {
  const auth = { user: 'owner', password: 'once-upon-9' }
  await using guarded = await startInfluxd({ auth })
  const open = { ...targetOn(guarded), auth: { kind: 'basic' as const, ...auth } }
  using folder = tempDir()
  const away: string[] = []
  const refused = await openInflux(
    folder.path,
    { ...open, auth: { ...open.auth, password: 'wrong-8-word' } },
    away,
  )
  await append(refused, some(0, 1))
  expect(away[0]).toContain('LOAMLINE_INFLUX_PASSWORD')
  expect(away.join()).not.toContain('wrong-8-word')
  await refused.close()

  const admin = openInfluxClient(open)
  await admin.query('CREATE DATABASE "garden"')
  await admin.query(`CREATE USER "hub" WITH PASSWORD 'twice-7'`)
  // Not an administrator: it cannot make databases, and need not.
  await admin.query('GRANT ALL ON "garden" TO "hub"')
  await admin.close()
  const as = { ...open, auth: { kind: 'basic' as const, user: 'hub', password: 'twice-7' } }
  const store = await openInflux(folder.path, as)
  try {
    await keep(store, some(1, 1))
    await delivered(store)
    expect(await shown(store)).toEqual([0, 1])
    expect(await store.prune(sampleReading({ seq: 1 }).at)).toBe(1)
    expect(await shown(store)).toEqual([1])
  } finally {
    await store.close()
  }
})

test(
  'plain numbers that come while it is not known what is there are all kept, over a restart and after it',
  { timeout: 60_000 },
  async () => {
    const start = sampleReading().at
    let now = start
    const hub = async (folder: string) => {
      const stores = await openStores(folder, { influx: target, clock: () => now })
      const log = { info() {}, warn() {} }
      const ingest = createIngest({ ...stores, clock: () => now, log })
      return {
        readings: stores.readings,
        async send(n: number): Promise<void> {
          for (let i = 0; i < n; i++) {
            now += MINUTE
            const payload = Buffer.from(String(-40 - i))
            const came = { payload, arrivedAt: now, retain: false, mayBeDelayed: false }
            await ingest.ingest([{ topic: 'lm1/row1/up/v/e1', ...came }])
          }
        },
        async [Symbol.asyncDispose](): Promise<void> {
          ingest.stop()
          await stores.close()
        },
      }
    }
    const all = async (readings: ReadingStore, n: number): Promise<void> => {
      await delivered(readings)
      expect(await readings.counts()).toMatchObject({ readings: n, quarantined: 0, duplicates: 0 })
      expect(await shown(readings)).toHaveLength(n)
      expect((await heldThere(target)).n).toBe(n)
    }
    using lost = tempDir()
    {
      await using before = await hub(lost.path)
      await before.send(20)
      await all(before.readings, 20)
    }
    using folder = tempDir()
    try {
      await influxd.stop()
      {
        await using away = await hub(folder.path)
        await away.send(5)
      }
      await using again = await hub(folder.path)
      await again.send(5)
      await influxd.start()
      await all(again.readings, 30)
      await again.send(5)
      await all(again.readings, 35)
    } finally {
      await bringBack()
    }
  },
)
