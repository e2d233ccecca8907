import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { statSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { DAY, HOUR, MINUTE, SECOND } from '#hub/model/clock.ts'
import type { Reading } from '#hub/model/reading.ts'
import type { Buckets, Step } from '#hub/model/series.ts'
import { BUSY_MS, openDatabase } from '#hub/store/sqlite/open-database.ts'
import { openStores, type Stores } from '#hub/store/open.ts'
import type { Upkeep } from '#hub/store/retention/upkeep.ts'
import { seededRandom } from '../../support/random.ts'
import { tempDir } from '../../support/temp-dir.ts'

const START = Date.UTC(2026, 2, 1)
const DAYS = 5
/** Days 0 to 2 are old. */
const BEFORE = START + 3 * DAY
const FAST = 'rook1'
const SLOW = 'wren1'
const CHANNELS = ['phmv', 'st', 'm1'] as const

function reading(probe: string, seq: number, at: number, value: number, boot = 1): Reading {
  return {
    probe,
    boot,
    seq,
    uptimeS: Math.floor((at - START) / SECOND),
    at,
    placedBy: 'arrival',
    arrivedAt: at,
    deviceAt: null,
    flags: seq % 97 === 0 ? 4 : 0,
    values: [
      { channel: 'phmv', value: Math.round(value * 10) / 10 },
      { channel: 'st', value: seq % 53 === 0 ? NaN : 15 + (seq % 64) / 64 },
      // A sensor that was put on in the second day.
      ...(at < START + DAY ? [] : [{ channel: 'm1', value: 1500 + (seq % 700) }]),
    ],
  }
}

/** A probe that reads every minute, with a restart, and one that reads every quarter of an hour. */
function garden(): Reading[] {
  const random = seededRandom(5)
  const all: Reading[] = []
  for (let i = 0; i < DAYS * 24 * 60; i++) {
    const at = START + i * MINUTE + Math.round(random() * 900)
    const boot = i < 2000 ? 1 : 2
    all.push(reading(FAST, i < 2000 ? i : i - 2000, at, 20 + 30 * random(), boot))
  }
  for (let i = 0; i < DAYS * 24 * 4; i++) {
    all.push(reading(SLOW, i, START + i * 15 * MINUTE, 50 * random()))
  }
  // Some of which nobody can tell the time: in no hour, and kept.
  for (let i = 0; i < 3; i++) {
    all.push({ ...reading(FAST, 900_000 + i, START + DAY + i * HOUR, -80), placedBy: 'bounded' })
  }
  return all
}

const append = (stores: Stores, readings: readonly Reading[]): Promise<void> =>
  stores.readings.append({ readings, anchors: [], marks: [], quarantined: [] })

const upkeepOf = ({ readings }: Stores): Upkeep => {
  if (readings.upkeep === undefined) throw new Error('the store keeps no house')
  return readings.upkeep
}

async function planted(dir: string): Promise<Stores> {
  const stores = await openStores(dir)
  await append(stores, garden())
  await stores.readings.settle()
  return stores
}

const series = (stores: Stores, step: Step, probe = FAST): Promise<readonly Buckets[]> =>
  stores.readings.buckets(
    CHANNELS.map((channel) => ({ probe, channel, from: START - DAY, to: START + 9 * DAY, step })),
  )

/** Means come back within a billionth, everything else as it was. */
function same(now: readonly Buckets[], before: readonly Buckets[]): void {
  expect(now.length).toBe(before.length)
  for (const [i, was] of before.entries()) {
    const is = now[i]!
    for (const column of ['time', 'count', 'min', 'max', 'median'] as const) {
      expect(is[column], `${CHANNELS[i]} ${column}`).toEqual(was[column])
    }
    expect(is.mean.length).toBe(was.mean.length)
    was.mean.forEach((mean, row) => {
      const got = is.mean[row]!
      const well = Number.isNaN(mean) ? Number.isNaN(got) : Math.abs(got - mean) <= 1e-9 * mean
      expect(well, `${CHANNELS[i]} mean ${mean} ${got}`).toBe(true)
    })
  }
}

test('old readings become hours: hours and days read as before, the rest stays, nothing is forgotten', async () => {
  using dir = tempDir()
  let stores = await planted(dir.path)
  const before = {
    hour: await series(stores, 'hour'),
    day: await series(stores, 'day'),
    raw: await series(stores, 'raw'),
    slow: await series(stores, 'raw', SLOW),
    counts: await stores.readings.counts(),
    latest: await stores.readings.latest(),
    accounts: await stores.readings.accounts(FAST),
    recall: [await stores.readings.recall(FAST, 1), await stores.readings.recall(FAST, 2)],
    size: await upkeepOf(stores).size(),
  }
  expect(before.size).toMatchObject({ readings: before.counts.readings, hours: 0, thinnedTo: null })

  const would = await upkeepOf(stores).wouldThin(BEFORE)
  // Three days of the fast probe with its bounded ones; the slow one has too few a day to be worth it.
  expect(would).toMatchObject({ readings: 3 * 1440 + 3, daysKept: 3, hours: 3 * 24 * 3 - 24 })
  expect(would.hourBytes).toBeLessThan(would.bytes / 3)
  same(await series(stores, 'raw'), before.raw)

  const told: number[] = []
  const done = await upkeepOf(stores).thin(BEFORE, { tell: (share) => told.push(share) })
  expect(done).toEqual({ readings: 3 * 1440, days: 3, of: 3 })
  expect(told.at(-1)).toBe(1)

  const check = async (): Promise<void> => {
    same(await series(stores, 'hour'), before.hour)
    same(await series(stores, 'day'), before.day)
    const raw = await series(stores, 'raw')
    expect(raw[0]!.time.length).toBe(2 * 1440)
    expect(raw[0]!.time[0]).toBeGreaterThanOrEqual(BEFORE)
    same(await series(stores, 'raw', SLOW), before.slow)
    expect(await stores.readings.counts()).toEqual(before.counts)
    expect(await stores.readings.latest()).toEqual(before.latest)
    expect(await stores.readings.accounts(FAST)).toEqual(before.accounts)
    for (const [i, was] of before.recall.entries()) {
      expect((await stores.readings.recall(FAST, i + 1)).ahead).toEqual(was.ahead)
    }
    const size = await upkeepOf(stores).size()
    expect(size).toMatchObject({
      readings: before.counts.readings - 3 * 1440,
      hours: 3 * 24 * 3 - 24,
      thinnedTo: BEFORE,
    })
    const gone = garden().filter(
      ({ probe, at, placedBy }) => probe === FAST && at < BEFORE && placedBy !== 'bounded',
    )
    const values = gone.flatMap((one) => one.values.filter(({ value }) => !Number.isNaN(value)))
    expect(size.values).toBe(before.size.values - values.length)
    expect(await upkeepOf(stores).thinnedTo()).toEqual(new Map([[FAST, BEFORE]]))
  }
  await check()
  // The same again finds nothing to do; nor does making everything anew change what stands for the readings.
  expect(await upkeepOf(stores).thin(BEFORE)).toEqual({ readings: 0, days: 0, of: 0 })
  await stores.readings.rebuild()
  await check()
  await stores.close()
  stores = await openStores(dir.path)
  await check()
  await stores.close()
})

test('one that comes again is known, one that comes late goes into its hour, whatever is made anew', async () => {
  using dir = tempDir()
  const stores = await planted(dir.path)
  await upkeepOf(stores).thin(BEFORE)
  const [before] = await series(stores, 'hour')
  const [days] = await series(stores, 'day')
  const counts = await stores.readings.counts()
  const again = garden().filter(({ probe, at }) => probe === FAST && at < BEFORE)
  await append(stores, again.slice(0, 200))
  await stores.readings.settle()
  expect(await stores.readings.counts()).toMatchObject({
    readings: counts.readings,
    duplicates: counts.duplicates + 200,
    quarantined: counts.quarantined,
  })
  // The same number with another uptime is still a contradiction.
  await append(stores, [{ ...again[7]!, uptimeS: 1 }])
  await stores.readings.settle()
  expect((await stores.readings.counts()).quarantined).toBe(counts.quarantined + 1)

  const at = START + DAY + 5 * HOUR + 90 * SECOND
  const late = reading(FAST, 5000, at, 99, 1)
  await append(stores, [late, { ...late, seq: 5001, at: at + 1, values: [] }])
  await stores.readings.settle()
  const row = (b: Buckets, t: number): number => b.time.indexOf(t)
  const check = async (): Promise<void> => {
    const [hour] = await series(stores, 'hour')
    const [day] = await series(stores, 'day')
    const h = row(hour!, START + DAY + 5 * HOUR)
    const d = row(day!, START + DAY)
    expect(hour!.count[h]).toBe(before!.count[h]! + 1)
    expect(hour!.max[h]).toBe(99)
    expect(hour!.min[h]).toBe(before!.min[h]!)
    const mean = (before!.mean[h]! * 60 + 99) / 61
    expect(hour!.mean[h]).toBeCloseTo(mean, 8)
    expect(day!.count[d]).toBe(days!.count[d]! + 1)
    expect(day!.max[d]).toBe(99)
    expect(day!.mean[d]).toBeCloseTo((days!.mean[d]! * 1440 + 99) / 1441, 8)
    // Its neighbours are as they were.
    expect(hour!.mean[h + 1]).toBe(before!.mean[h + 1]!)
  }
  await check()
  await append(stores, [late])
  await stores.readings.settle()
  await check()
  await stores.readings.rebuild()
  await check()
  expect(await upkeepOf(stores).thin(BEFORE)).toEqual({ readings: 0, days: 0, of: 0 })
  await check()
  await stores.close()
})

test('days that would get no smaller are tried once, are no work, and are tried again once they change', async () => {
  using dir = tempDir()
  const alike = (seq: number, at: number): Reading => ({
    ...reading(FAST, seq, at, 0),
    flags: 0,
    values: [...CHANNELS, 'm2'].map((channel, i) => ({ channel, value: channelValue(i, at) })),
  })
  // Two values that take turns in an hour are a few bytes; their statistics are fractions, hour by hour.
  const channelValue = (i: number, at: number): number =>
    Math.floor(at / HOUR) % 2 === 0 ? i + 0.1 : i + 0.7
  const random = seededRandom(8)
  // Moments that go unevenly are a part of the names, and stay.
  const all = Array.from({ length: 4 * 288 }, (_, i) =>
    alike(i, START + i * 5 * MINUTE + Math.floor(200 * random()) * SECOND),
  )
  const others = garden().filter(({ probe }) => probe === SLOW)
  let stores = await openStores(dir.path)
  await append(stores, [...all, ...others])
  await stores.readings.settle()
  const raw = await series(stores, 'raw')
  const would = await upkeepOf(stores).wouldThin(BEFORE)
  expect(would.daysKept).toBe(3)
  expect(would.readings).toBe(3 * 288)

  const told: number[] = []
  const first = await upkeepOf(stores).thin(BEFORE, { tell: (share) => told.push(share) })
  expect(first).toEqual({ readings: 0, days: 0, of: 0 })
  expect(told.at(-1)).toBe(1)
  for (const _ of ['the same hub', 'after a restart']) {
    expect(await upkeepOf(stores).wouldThin(BEFORE)).toMatchObject({ readings: 0, daysKept: 6 })
    const none: number[] = []
    await upkeepOf(stores).thin(BEFORE, { tell: (share) => none.push(share) })
    expect(none).toEqual([])
    same(await series(stores, 'raw'), raw)
    await stores.close()
    stores = await openStores(dir.path)
  }

  // A fifth of the day comes late, with values that are not alike: now its hours are the smaller.
  const late = Array.from({ length: 3 * 288 }, (_, i) => {
    const one = alike(5000 + i, START + DAY + i * 100 * SECOND + 7)
    return { ...one, values: one.values.map(({ channel }) => ({ channel, value: random() })) }
  })
  await append(stores, late)
  await stores.readings.settle()
  expect(await upkeepOf(stores).wouldThin(BEFORE)).toMatchObject({ readings: 4 * 288, daysKept: 5 })
  expect(await upkeepOf(stores).thin(BEFORE)).toEqual({ readings: 4 * 288, days: 1, of: 1 })
  // Whole days that are pruned take nothing along but themselves.
  await stores.readings.prune(START + DAY)
  expect(await upkeepOf(stores).size()).toMatchObject({ hours: 24 * 4 })
  await stores.readings.prune(START + 9 * DAY)
  expect(await upkeepOf(stores).size()).toMatchObject({ hours: 0, hourBytes: 0, readings: 0 })
  await stores.close()
})

test('given up half-way the store is whole, and the next time brings the rest', async () => {
  using dir = tempDir()
  const stores = await planted(dir.path)
  const hours = await series(stores, 'hour')
  const abort = new AbortController()
  const half = await upkeepOf(stores).thin(BEFORE, {
    signal: abort.signal,
    tell: () => abort.abort(),
  })
  expect(half.of).toBe(3)
  expect(half.days).toBeLessThan(3)
  same(await series(stores, 'hour'), hours)
  const rest = await upkeepOf(stores).thin(BEFORE)
  expect(rest.days).toBe(3 - half.days)
  same(await series(stores, 'hour'), hours)
  await stores.close()
})

test('readings that come meanwhile are taken meanwhile; emptied space goes back to the disk', async () => {
  using dir = tempDir()
  const file = join(dir.path, 'readings.db')
  const stores = await openStores(dir.path)
  // Probes that read every ten seconds: several blocks a day, hours that begin in one and end in the next.
  const readings: Reading[] = []
  for (let i = 0; i < 4 * 8640; i++) {
    for (const probe of ['fast1', 'fast2', 'fast3']) {
      readings.push(reading(probe, i, START + i * 10 * SECOND, 20 + ((i * 37) % 400) / 8))
    }
  }
  for (let i = 0; i < readings.length; i += 10_000) {
    await append(stores, readings.slice(i, i + 10_000))
  }
  await stores.readings.settle()
  const before = await series(stores, 'hour', 'fast2')
  const size = await upkeepOf(stores).size()
  expect(size.shrinks).toBe(true)

  let over = false
  let taken = 0
  const work = upkeepOf(stores)
    .thin(START + 3 * DAY)
    .then(() => upkeepOf(stores).shrink())
    .finally(() => {
      over = true
    })
  // One after the other, each confirmed before the next is sent.
  while (!over) {
    await append(stores, [reading('live1', taken, START + 4 * DAY + taken * SECOND, 33)])
    taken++
  }
  const { bytes } = await work
  expect(taken).toBeGreaterThan(10)
  await stores.readings.settle()
  const [live] = await stores.readings.buckets([
    { probe: 'live1', channel: 'phmv', from: START, to: START + 9 * DAY, step: 'raw' },
  ])
  expect(live!.time.length).toBe(taken)
  same(await series(stores, 'hour', 'fast2'), before)
  const after = await upkeepOf(stores).size()
  // Three of four days are gone but for their hours and names.
  expect(after.bytes).toBeLessThan(size.bytes / 2)
  expect(bytes).toBeGreaterThan(size.bytes / 3)
  // What was settled meanwhile has emptied some pages again.
  expect(after.emptyBytes).toBeLessThan(size.bytes / 10)
  await stores.close()
  expect(statSync(file).size).toBeLessThan(size.bytes / 2)
}, 60_000)

test('a backup that reads all the while holds nothing up: what cannot be given back stays for the next time', async () => {
  using dir = tempDir()
  const stores = await planted(dir.path)
  const hours = await series(stores, 'hour')
  const reader = openDatabase(join(dir.path, 'readings.db'), { readOnly: true })
  reader.exec('BEGIN; SELECT count(*) FROM block')
  await upkeepOf(stores).thin(BEFORE)
  const begun = performance.now()
  const work = upkeepOf(stores).shrink()
  await append(stores, [reading('live1', 0, START + 4 * DAY, 33)])
  await work
  // Whoever waited for the reader would have done so for five seconds, and failed.
  expect(performance.now() - begun).toBeLessThan(BUSY_MS)
  reader.exec('COMMIT')
  reader.close()
  same(await series(stores, 'hour'), hours)
  await stores.close()
})

test('what is pruned takes its hours along, a day at a time', async () => {
  using dir = tempDir()
  const stores = await planted(dir.path)
  await upkeepOf(stores).thin(BEFORE)
  await stores.readings.prune(START + DAY + 5 * HOUR)
  const [hour] = await series(stores, 'hour')
  expect(hour!.time[0]).toBe(START + DAY)
  expect(await upkeepOf(stores).size()).toMatchObject({ hours: 2 * 24 * 3 })
  await stores.readings.prune(START + 9 * DAY)
  expect((await series(stores, 'hour')).every(({ time }) => time.length === 0)).toBe(true)
  expect(await upkeepOf(stores).size()).toMatchObject({ hours: 0, hourBytes: 0, readings: 0 })
  await stores.close()
})

test.each([/^0\.\d+$/m, /^shrinking$/m])(
  'killed while it works (%s), nothing is lost and nothing is done twice',
  async (said) => {
    using dir = tempDir()
    let stores = await planted(dir.path)
    const hours = await series(stores, 'hour')
    const days = await series(stores, 'day')
    const counts = await stores.readings.counts()
    await stores.close()
    const child = spawn(
      process.execPath,
      [join(import.meta.dirname, 'thin-and-wait.ts'), dir.path, String(BEFORE)],
      { stdio: ['ignore', 'pipe', 'inherit'] },
    )
    const ended = once(child, 'close')
    let told = ''
    child.stdout.on('data', (chunk: Buffer) => {
      told += chunk.toString()
      if (said.test(told)) child.kill('SIGKILL')
    })
    await ended
    expect(told).toMatch(said)
    expect(told).not.toContain('done')
    stores = await openStores(dir.path)
    same(await series(stores, 'hour'), hours)
    same(await series(stores, 'day'), days)
    await upkeepOf(stores).thin(BEFORE)
    same(await series(stores, 'hour'), hours)
    same(await series(stores, 'day'), days)
    expect(await stores.readings.counts()).toEqual(counts)
    expect(await upkeepOf(stores).size()).toMatchObject({
      readings: counts.readings - 3 * 1440,
      hours: 3 * 24 * 3 - 24,
    })
    await stores.close()
  },
  30_000,
)
