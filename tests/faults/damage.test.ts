import { closeSync, cpSync, openSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs'
import { truncateSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest'
import type { Health } from '#hub/api/schemas/health.ts'
import { backUp } from '#hub/store/backup.ts'
import { openStores } from '#hub/store/open.ts'
import { tarOf } from '#hub/transfer/tar.ts'
import { packIntake } from '#hub/store/sqlite/packed-intake.ts'
import { startHub } from '../support/hub-process.ts'
import { seededRandom } from '../support/random.ts'
import { batchOf, sampleReading } from '../support/sample-readings.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { startInsistentProbes } from './support/insistent-probes.ts'
import { digests, refusedStart } from './support/refused-start.ts'

/*
 * Files that are not what they were: cut off, overwritten, emptied, gone, of a newer version. Nothing that is still
 * there may be made worse, probes must go on being heard where that can be done, and somebody must be told.
 */

const READINGS = 20_000
const START = 1_750_000_000_000
let sample: ReturnType<typeof tempDir>

/** A data folder with a past, closed in order. */
beforeAll(async () => {
  sample = tempDir()
  const stores = await openStores(sample.path, { zone: 'Europe/Lisbon' })
  await stores.garden.hear([{ id: 'row1', at: 1_750_000_000_000, channels: [] }], 50)
  const random = seededRandom(40)
  for (let from = 0; from < READINGS; from += 1000) {
    const readings = Array.from({ length: 1000 }, (_, i) =>
      sampleReading({
        seq: from + i,
        at: START + (from + i) * 60_000,
        values: { e1: random() * 2000, m1: Math.floor(random() * 4096) },
      }),
    )
    await stores.readings.append(batchOf({ readings }))
  }
  await stores.readings.settle()
  await stores.close()
})
afterAll(() => sample[Symbol.dispose]())

function copy(): string {
  const folder = tempDir()
  onTestFinished(() => folder[Symbol.dispose]())
  cpSync(sample.path, folder.path, { recursive: true })
  return folder.path
}

function overwrite(file: string, from: number, bytes: number, seed: number): void {
  const random = seededRandom(seed)
  const handle = openSync(file, 'r+')
  writeSync(
    handle,
    Buffer.from(Array.from({ length: bytes }, () => Math.floor(random() * 256))),
    0,
    bytes,
    from,
  )
  closeSync(handle)
}

const hubOn = async (folder: string) => {
  const hub = await startHub('start', folder, { LOAMLINE_PROBE_LIMIT: '0' })
  onTestFinished(() => hub[Symbol.asyncDispose]())
  return hub
}

test(
  'damage: readings cut off at any place are put aside as they are, and new ones are taken',
  { timeout: 60_000 },
  async () => {
    const random = seededRandom(41)
    for (let cut = 0; cut < 8; cut++) {
      const folder = copy()
      const file = join(folder, 'readings.db')
      const left = Math.floor(statSync(file).size * (cut === 0 ? 0.9999 : random()))
      truncateSync(file, left)
      const before = readFileSync(file)
      const told: string[] = []
      const stores = await openStores(folder, {
        putAside: true,
        onTrouble: ({ message }) => told.push(message),
      })
      try {
        expect(told, `cut at ${left}`).toEqual([
          expect.stringMatching(/readings\.db is damaged .* was put aside/),
        ])
        const [aside] = stores.setAside()
        expect(told[0]).toContain(aside!.folder)
        expect(readFileSync(join(aside!.folder, 'readings.db')).equals(before)).toBe(true)
        await stores.readings.append(batchOf({ readings: [sampleReading({ seq: READINGS })] }))
        await stores.readings.settle()
        expect((await stores.readings.counts()).readings).toBe(1)
        expect(await stores.garden.probe('row1')).toMatchObject({ id: 'row1' })
      } finally {
        await stores.close()
      }
    }
  },
)

test('damage: a command that only looks leaves damaged readings where they are', async () => {
  const folder = copy()
  truncateSync(join(folder, 'readings.db'), 40_000)
  const before = digests(folder)
  await expect(openStores(folder)).rejects.toMatchObject({ code: 'HUB_STORE_UNAVAILABLE' })
  expect(digests(folder)).toMatchObject({ 'readings.db': before['readings.db'] })
})

test(
  'damage: the hub that was killed and finds its readings damaged says so and goes on hearing probes',
  { timeout: 60_000 },
  async () => {
    const folder = copy()
    const first = await hubOn(folder)
    const probes = await startInsistentProbes({
      url: `mqtt://127.0.0.1:${first.mqttPort}`,
      probes: 2,
      everyMs: 20,
    })
    onTestFinished(() => probes.close())
    await until('probes are heard', () => probes.toldCount() > 20)
    await first.end('SIGKILL')
    const told = probes.toldCount()
    // Pages here and there, as a dying disk leaves them; the log beside them is whole and knows nothing of them.
    const file = join(folder, 'readings.db')
    const pages = Math.floor(statSync(file).size / 4096)
    for (let page = 8; page < pages; page += 4) overwrite(file, page * 4096, 4096, 42 + page)
    const hub = await hubOn(folder)
    probes.moveTo(`mqtt://127.0.0.1:${hub.mqttPort}`)
    await until('probes are heard again', () => probes.toldCount() > told + 20, 20_000)
    const health = await hub.get<Health>('/api/health')
    expect(health.status).toBe('trouble')
    expect(health.store).toMatchObject({
      state: 'up',
      problem: expect.stringContaining('damaged-readings-'),
    })
    expect(hub.output()).toMatch(/readings\.db is damaged .* was put aside/)
    await probes.finish()
    await hub.end()

    // It goes on saying so for as long as the folder lies there.
    const later = await hubOn(folder)
    expect((await later.get<Health>('/api/health')).store.problem).toContain('damaged-readings-')
    for (const name of readdirSync(folder))
      if (name.startsWith('damaged-')) rmSync(join(folder, name), { recursive: true })
    expect(await later.get<Health>('/api/health')).toMatchObject({
      status: 'ok',
      store: { problem: null },
    })
  },
)

test(
  'damage: met while the hub runs it is told at once, and mended by a restart',
  { timeout: 60_000 },
  async () => {
    const folder = copy()
    const file = join(folder, 'readings.db')
    // Closed in order, so that it is not looked through at the start; every page but the first few is rubbish.
    overwrite(file, 4096 * 30, statSync(file).size - 4096 * 30, 43)
    const hub = await hubOn(folder)
    const probes = await startInsistentProbes({
      url: `mqtt://127.0.0.1:${hub.mqttPort}`,
      probes: 2,
      everyMs: 20,
    })
    onTestFinished(() => probes.close())
    const health = await until('the trouble is shown', async () => {
      const now = await hub.get<Health>('/api/health')
      return now.store.problem === null ? null : now
    })
    expect(health.status).toBe('trouble')
    expect(health.store.problem).toMatch(/damaged|malformed/)
    await hub.end()
    const again = await hubOn(folder)
    probes.moveTo(`mqtt://127.0.0.1:${again.mqttPort}`)
    const told = probes.toldCount()
    await until('probes are heard again', () => probes.toldCount() > told + 20, 20_000)
    expect((await again.get<Health>('/api/health')).store.problem).toContain('damaged-readings-')
    await probes.finish()
  },
)

test('damage: a day of readings whose bytes were changed is told, ends nothing, and leaves the others', async () => {
  const folder = copy()
  const db = new DatabaseSync(join(folder, 'readings.db'))
  const { id } = db.prepare('SELECT id FROM block ORDER BY start LIMIT 1 OFFSET 2').get() as {
    id: number
  }
  db.prepare('UPDATE block SET body = ? WHERE id = ?').run(Buffer.alloc(4000, 0xff), id)
  db.close()
  const [deaths, told] = [[] as string[], [] as string[]]
  const stores = await openStores(folder, {
    onDeath: ({ message }) => deaths.push(message),
    onTrouble: ({ message }) => told.push(message),
  })
  try {
    const query = { probe: 'row1', channel: 'm1', from: 0, step: 'raw' as const }
    const [all] = await stores.readings.buckets([{ ...query, to: 9e15 }])
    const [part] = await stores.readings.damage.list()
    const { from, to, readings } = part!
    // Every reading of that day and no other is left out, and whoever draws them is told where.
    expect(readings).toBe(1440)
    expect(all!.time).toHaveLength(READINGS - readings)
    expect(all!.time.some((t) => t >= from! && t < to!)).toBe(false)
    expect(await stores.readings.damage.within(['row1'], 0, 9e15)).toEqual([
      { probe: 'row1', what: 'readings', from, to, readings, gone: false },
    ])
    expect(told).toEqual([expect.stringMatching(/readings\.db: 1440 readings of row1 .* damaged/)])
    expect(await stores.damaged()).toMatchObject({ parts: 1, readings })
    expect(await stores.readings.damage.bytes(part!.id)).toEqual(new Uint8Array(4000).fill(0xff))
    const [first] = await stores.readings.buckets([{ ...query, to: START + 60 * 60_000 }])
    expect(first!.time).toHaveLength(60)
    await stores.readings.append(batchOf({ readings: [sampleReading({ seq: READINGS })] }))
    expect(deaths).toEqual([])
    expect(told).toHaveLength(1)
  } finally {
    await stores.close()
  }
})

test(
  'damage: the day being written and a batch in the log are put aside, and everything else is stored on',
  { timeout: 60_000 },
  async () => {
    const folder = copy()
    const db = new DatabaseSync(join(folder, 'readings.db'))
    // Of 20,000 readings, one each minute: the last block is the day that goes on.
    const newest = db
      .prepare('SELECT id, n, body FROM block ORDER BY start DESC LIMIT 1')
      .get() as {
      id: number
      n: number
      body: Uint8Array
    }
    const next = (seq: number, probe = 'row1') =>
      sampleReading({ probe, seq, at: START + seq * 60_000, values: { m1: 7 } })
    const good = packIntake([next(READINGS), next(READINGS, 'row2')], [])
    const batch = packIntake([next(READINGS + 1)], [])
    for (const spoilt of [newest.body, batch]) spoilt[9] = spoilt[9]! ^ 0x10
    db.prepare('UPDATE block SET body = ? WHERE id = ?').run(newest.body, newest.id)
    const add = db.prepare('INSERT INTO log (readings, body) VALUES (?, ?)')
    add.run(2, good)
    // The last of the log: nothing comes after it that would carry the rest past it.
    add.run(1, batch)
    db.close()

    const hub = await hubOn(folder)
    const health = await hub.get<Health>('/api/health')
    expect(health.status).toBe('trouble')
    expect(health.store).toEqual({
      state: 'up',
      problem: expect.stringContaining(`${newest.n + 1} readings were found damaged`),
      about: 'damaged readings',
    })
    expect(health.counts.readings).toBe(READINGS - newest.n + 2)
    expect(hub.output()).toMatch(/readings\.db: a batch of 1 readings .* are damaged/)
    expect(hub.output()).toMatch(new RegExp(`${newest.n} readings of row1 from .* are damaged`))
    const probes = await startInsistentProbes({
      url: `mqtt://127.0.0.1:${hub.mqttPort}`,
      probes: 2,
      everyMs: 20,
    })
    onTestFinished(() => probes.close())
    await until('probes are heard', () => probes.toldCount() > 20)
    await probes.finish()
    await hub.end()

    // The same day goes on for both after another start, and what comes again is stored.
    const told: string[] = []
    const stores = await openStores(folder, {
      putAside: true,
      onTrouble: ({ message }) => told.push(message),
    })
    try {
      for (const seq of [READINGS - 1, READINGS + 1, READINGS + 2])
        await stores.readings.append(batchOf({ readings: [next(seq), next(seq, 'row2')] }))
      const query = { channel: 'm1', from: START + (READINGS - newest.n) * 60_000, to: 9e15 }
      for (const probe of ['row1', 'row2']) {
        await stores.readings.settle()
        const [found] = await stores.readings.buckets([{ ...query, probe, step: 'raw' }])
        expect(found!.time.map((at) => (at - START) / 60_000)).toEqual(
          Float64Array.of(READINGS - 1, READINGS, READINGS + 1, READINGS + 2),
        )
      }
      expect(told).toEqual([])
      expect(await stores.damaged()).toMatchObject({ parts: 2, readings: newest.n + 1 })
    } finally {
      await stores.close()
    }
    const kept = new DatabaseSync(join(folder, 'readings.db'))
    const bodies = kept.prepare('SELECT body FROM damaged ORDER BY n DESC').all()
    kept.close()
    expect(bodies.map(({ body }) => body)).toEqual([newest.body, Uint8Array.from(batch)])
  },
)

test(
  'damage: killed again and again while readings are brought back out of a backup',
  { timeout: 120_000 },
  async () => {
    const folder = copy()
    const made = tempDir()
    onTestFinished(() => made[Symbol.dispose]())
    await backUp(copy(), made.path, { version: '1.0.0', now: START })
    const files = readdirSync(made.path).map((name) => join(made.path, name))
    const archive = Buffer.concat(await Array.fromAsync(tarOf(files, START)))
    const db = new DatabaseSync(join(folder, 'readings.db'))
    const blocks = db.prepare('SELECT id, n, body FROM block').all() as unknown as {
      id: number
      n: number
      body: Uint8Array
    }[]
    for (const { id, body } of blocks) {
      body[9] = body[9]! ^ 0x10
      db.prepare('UPDATE block SET body = ? WHERE id = ?').run(body, id)
    }
    db.close()
    // Whoever looks puts them aside.
    const looking = await openStores(folder)
    const all = { probe: 'row1', channel: 'm1', from: 0, to: 9e15 }
    await looking.readings.buckets([{ ...all, step: 'raw' }])
    expect(await looking.damaged()).toMatchObject({ parts: blocks.length, readings: READINGS })
    await looking.close()
    const bring = (url: string) =>
      fetch(`${url}/api/damaged/bring-back`, {
        method: 'POST',
        headers: { 'content-type': 'application/x-tar' },
        body: archive,
      })
    const random = seededRandom(47)
    let begun = 0
    for (let kill = 0; kill < 5; kill++) {
      const hub = await hubOn(folder)
      expect(readdirSync(folder)).not.toContain('bringing-back')
      const ended = bring(hub.url).then(
        () => 'answered',
        () => 'broken off',
      )
      await until('it is under way', () => readdirSync(folder).includes('bringing-back'))
      await new Promise((resolve) => setTimeout(resolve, random() * 250))
      await hub.end('SIGKILL')
      if ((await ended) === 'broken off') begun++
    }
    expect(begun).toBeGreaterThan(0)
    const hub = await hubOn(folder)
    expect((await bring(hub.url)).status).toBe(200)
    expect(await hub.get<Health>('/api/health')).toMatchObject({
      status: 'ok',
      counts: { readings: READINGS, damaged: 0, duplicates: 0, quarantined: 0 },
    })
    await hub.end()
    const stores = await openStores(folder)
    try {
      const [raw, hours] = await stores.readings.buckets([
        { ...all, step: 'raw' },
        { ...all, step: 'hour' },
      ])
      expect([...raw!.time]).toEqual(Array.from({ length: READINGS }, (_, i) => START + i * 60_000))
      expect(hours!.count.reduce((sum, n) => sum + n, 0)).toBe(READINGS)
      expect(await stores.readings.accounts('row1')).toMatchObject([{ received: READINGS }])
    } finally {
      await stores.close()
    }
  },
)

test.for([
  ['cut off', (file: string) => truncateSync(file, Math.floor(statSync(file).size * 0.6))],
  ['overwritten', (file: string) => overwrite(file, 0, 20_000, 44)],
  ['empty', (file: string) => truncateSync(file, 0)],
  ['gone', (file: string) => rmSync(file)],
] as const)(
  'damage: a garden that is %s is refused with what to do, and nothing is touched',
  { timeout: 30_000 },
  async ([, spoil]) => {
    const folder = copy()
    spoil(join(folder, 'garden.db'))
    const before = digests(folder)
    const { code, output } = await refusedStart(folder)
    expect(code, output).toBe(2)
    expect(output).toMatch(/HUB_STORE_UNAVAILABLE: .*garden\.db.*loamline -- restore/s)
    expect(digests(folder)).toEqual(before)
  },
)

test('damage: what the watch remembers is made anew', { timeout: 30_000 }, async () => {
  const folder = copy()
  overwrite(join(folder, 'watch.db'), 0, 8192, 45)
  const hub = await hubOn(folder)
  expect(hub.output()).toMatch(/watch\.db is damaged/)
  await hub.end()
  expect(readdirSync(folder).filter((name) => name.startsWith('damaged-watch-'))).toHaveLength(1)
})

test.for(['empty', 'gone'])(
  'damage: readings that are %s though probes were heard are told',
  { timeout: 30_000 },
  async (how) => {
    const folder = copy()
    const file = join(folder, 'readings.db')
    if (how === 'empty') truncateSync(file, 0)
    else rmSync(file)
    const hub = await hubOn(folder)
    expect(hub.output()).toMatch(/readings\.db is (empty|missing), though probes have been heard/)
  },
)

test.for(['readings.db', 'garden.db', 'watch.db'])(
  'damage: %s of a newer version is refused and left as it is',
  { timeout: 30_000 },
  async (name) => {
    const folder = copy()
    const db = new DatabaseSync(join(folder, name))
    db.exec('PRAGMA user_version = 900')
    db.close()
    const before = digests(folder)
    const { code, output } = await refusedStart(folder)
    expect(code, output).toBe(2)
    expect(output).toMatch(new RegExp(`${name} was written by a newer Loamline`))
    // An empty log may stand beside it.
    expect(digests(folder)).toMatchObject(before)
  },
)
