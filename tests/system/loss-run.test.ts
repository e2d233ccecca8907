import { join } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import { runFleet } from '#hub/demo/fleet.ts'
import { openExternalBroker } from '#hub/ingest/external-broker.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import type { Fault } from '#hub/simulator/faults.ts'
import { fleetScenario } from '#hub/simulator/fleet-scenario.ts'
import { openStores } from '#hub/store/open.ts'
import { startBroker } from '../support/broker.ts'
import { storedReadings } from '../support/stored-readings.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

/*
 * Everything that can go wrong between a probe and the disk, at once and over a real mosquitto: three of ten
 * messages thrown away, the hub away, the broker killed, probes out of reach and without power, clocks that
 * run five per cent slow. Time runs sixty times faster than real for hub and probes, so that such a clock is
 * seconds off after a few real ones, far more than what a message takes on its way.
 */

const SPEED = 60
const SECOND = 1000
const MINUTE = 60 * SECOND
const INTERVAL = 30 * SECOND
const CLOCK_ERROR = -0.05
/** Holds all that the longest outage keeps back; the last probe's does not. */
const BUFFER = 96
const SMALL_BUFFER = 8

interface Taken {
  readonly at: number
  readonly st: number | null
}
interface StoredRow {
  readonly probe: string
  readonly boot: number
  readonly seq: number
  readonly at: number
  readonly placedBy: number
  readonly st: number | null
}

const median = (values: readonly number[]): number =>
  values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)] ?? NaN
const share = (values: readonly number[], part: number): number =>
  values.toSorted((a, b) => a - b)[Math.floor((values.length - 1) * part)] ?? NaN

test('what the memory of a probe can hold is stored exactly once, whatever fails, and placed in time', async () => {
  using folder = tempDir()
  const broker = await startBroker()
  onTestFinished(() => broker.close())
  const realStart = Date.now()
  const clock = (): number => realStart + (Date.now() - realStart) * SPEED
  const quiet = { warn: () => undefined, info: () => undefined }

  async function startHub() {
    const stores = await openStores(folder.path)
    const ingest = createIngest({
      readings: stores.readings,
      garden: stores.garden,
      clock,
      log: quiet,
    })
    const front = await openExternalBroker({ url: broker.url, ingest, clock, log: quiet })
    return {
      stores,
      stop: async () => {
        await front.stop()
        ingest.stop()
        await stores.close()
      },
    }
  }
  let hub: Awaited<ReturnType<typeof startHub>> | null = await startHub()
  onTestFinished(async () => hub?.stop())

  const faultsOf = (number: number, now: number): readonly Fault[] => {
    const span = (from: number, minutes: number) => ({
      from: now + from * MINUTE,
      to: now + (from + minutes) * MINUTE,
    })
    if (number === 1 || number === 6) return [{ kind: 'outage', ...span(5, 8), hubAway: false }]
    if (number === 2)
      return [
        { kind: 'no power', ...span(9, 1) },
        { kind: 'no power', ...span(22, 1) },
      ]
    // Cut off, and then the power goes while it holds readings back.
    if (number === 3)
      return [
        { kind: 'outage', ...span(20, 6), hubAway: false },
        { kind: 'no power', ...span(24, 1) },
      ]
    return []
  }
  const now = clock()
  const made = fleetScenario({
    seed: 11,
    count: 6,
    prefix: 'sim',
    now,
    clockError: CLOCK_ERROR,
    buffer: BUFFER,
    faultsOf: (number) => faultsOf(number, now),
  })
  const scenario = {
    ...made,
    probes: made.probes.map((probe) =>
      probe.id === 'sim6' ? { ...probe, buffer: SMALL_BUFFER } : probe,
    ),
  }
  const taken = new Map<string, Taken>()
  const forgotten = new Set<string>()
  const nameOf = (probe: string, one: { readonly boot: number; readonly seq: number }): string =>
    `${probe}/${one.boot}/${one.seq}`
  const fleet = runFleet({
    url: broker.url,
    scenario,
    clock,
    speed: SPEED,
    intervalMs: INTERVAL,
    lose: 0.3,
    passwords: new Map(),
    onMeasured: (probe, one, at) => taken.set(nameOf(probe, one), { at, st: one.values.st }),
    onForgotten: (probe, some) => some.forEach((one) => forgotten.add(nameOf(probe, one))),
  })
  let going = true
  const stopFleet = async (): Promise<void> => {
    if (!going) return
    going = false
    await fleet.stop()
  }
  onTestFinished(stopFleet)

  const minute = (n: number) => until(`minute ${n}`, () => clock() >= now + n * MINUTE, 120_000)
  await minute(14)
  await hub.stop()
  hub = null
  await minute(18)
  hub = await startHub()
  await minute(27)
  await broker.stop('SIGKILL')
  await minute(30)
  await broker.start()
  await minute(34)

  const end = clock()
  const wanted = [...taken].filter(([name, { at }]) => at < end && !forgotten.has(name))
  const file = join(folder.path, 'readings.db')
  const stored = (): StoredRow[] =>
    storedReadings(file).map(({ values, ...row }) => {
      const st = values['st'] ?? NaN
      return { ...row, st: Number.isNaN(st) ? null : st }
    })
  const lacking = async (): Promise<readonly string[]> => {
    await hub!.stores.readings.settle()
    const have = new Set(stored().map((row) => nameOf(row.probe, row)))
    // Readings can still be pushed out of the small memory while the test waits.
    return wanted.filter(([name]) => !have.has(name) && !forgotten.has(name)).map(([name]) => name)
  }
  await until(
    'everything that was held came in',
    async () => (await lacking()).length === 0,
    90_000,
  ).catch(async (error: unknown) => {
    throw new Error(`never came: ${(await lacking()).join(', ')}`, { cause: error })
  })
  await stopFleet()
  await hub.stores.readings.settle()

  const rows = stored()
  const names = rows.map((row) => nameOf(row.probe, row))
  expect(new Set(names).size).toBe(names.length)
  // Nothing was made up, and every value is the one that was measured.
  for (const row of rows) {
    const truth = taken.get(nameOf(row.probe, row))
    expect(truth, nameOf(row.probe, row)).toBeDefined()
    expect(row.st).toBe(truth!.st)
  }

  // What the hub says of itself adds up to the same.
  const figures = { received: 0, late: 0, duplicates: 0, missing: 0, lost: 0, conflicting: 0 }
  for (const { id } of scenario.probes) {
    for (const account of await hub.stores.readings.accounts(id)) {
      const mine = [...taken.keys()].filter((name) => name.startsWith(`${id}/${account.boot}/`))
      const have = rows.filter(({ probe, boot }) => probe === id && boot === account.boot)
      expect(account.received, `${id}/${account.boot}`).toBe(have.length)
      const highest = Math.max(...have.map(({ seq }) => seq))
      expect(account.received + account.missing + account.lost).toBe(highest + 1)
      expect(highest).toBeLessThan(mine.length)
      for (const name of Object.keys(figures) as (keyof typeof figures)[])
        figures[name] += account[name]
    }
  }
  expect(figures.conflicting).toBe(0)
  expect(figures.duplicates).toBeGreaterThan(0)
  const [small] = await hub.stores.readings.accounts('sim6')
  expect(small!.lost).toBeGreaterThan(0)

  const errors = (some: readonly StoredRow[]): number[] =>
    some.map((row) => Math.abs(row.at - taken.get(nameOf(row.probe, row))!.at) / SECOND)
  const all = errors(rows)
  const late = errors(rows.filter(({ placedBy: how }) => how === 2))
  console.log(
    `${taken.size} readings taken, ${forgotten.size} forgotten by probes, ${rows.length} stored; ` +
      `${JSON.stringify(figures)}; time error in s: all median ${median(all).toFixed(2)}, 95 % ` +
      `${share(all, 0.95).toFixed(2)}; ${late.length} late ones median ${median(late).toFixed(2)}, 95 % ` +
      `${share(late, 0.95).toFixed(2)}, most ${Math.max(...late).toFixed(2)}; bounded ` +
      `${rows.filter(({ placedBy: how }) => how === 3).length}`,
  )
  expect(late.length).toBeGreaterThan(50)
  expect(median(all)).toBeLessThan(5)
  expect(median(late)).toBeLessThan(5)
}, 180_000)
