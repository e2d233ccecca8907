import { beforeAll, describe, expect, test } from 'vitest'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { plantDemo } from '#hub/demo/garden.ts'
import { historyArrivals, loadHistory, type HistoryArrival } from '#hub/demo/history.ts'
import { demoScenario } from '#hub/simulator/demo-scenario.ts'
import { openStores } from '#hub/store/open.ts'
import { decode, PROBE_LIMIT_BYTES, type Decoded } from '#hub/wire/payload.ts'
import { tempDir } from '../../support/temp-dir.ts'
import { recentScenario } from './recent-scenario.ts'

const NOW = Date.UTC(2026, 10, 25, 13, 37, 11)
const quiet = { warn: () => {}, info: () => {} }

describe('the whole history', () => {
  const scenario = demoScenario({ seed: 20260, now: NOW })
  let arrivals: readonly HistoryArrival[] = []
  const bodies: { arrival: HistoryArrival; message: Decoded }[] = []
  beforeAll(() => {
    arrivals = Array.from(historyArrivals(scenario, NOW))
    for (const arrival of arrivals) {
      const message = decode(arrival.topic, arrival.payload, { strict: true })
      if ('problems' in message) {
        throw new Error(`${arrival.topic}: ${message.problems.map((p) => p.message).join('; ')}`)
      }
      bodies.push({ arrival, message })
    }
  })

  test('is near a quarter of a million messages, in order of arrival, none from the future', () => {
    expect(arrivals.length).toBeGreaterThan(230_000)
    expect(arrivals.length).toBeLessThan(270_000)
    expect(arrivals.every((one, i) => i === 0 || one.arrivedAt >= arrivals[i - 1]!.arrivedAt)).toBe(
      true,
    )
    expect(arrivals.at(-1)!.arrivedAt).toBeLessThan(NOW)
    expect(arrivals.at(-1)!.arrivedAt).toBeGreaterThan(NOW - 5 * MINUTE)
  })

  test('fits the smallest client libraries', () => {
    const sizes = arrivals.map((one) => one.topic.length + one.payload.length)
    expect(sizes.reduce((a, b) => Math.max(a, b), 0)).toBeLessThanOrEqual(PROBE_LIMIT_BYTES)
  })

  test('holds finite numbers, and nothing at all only where a sensor failed', () => {
    let values = 0
    let failed = 0
    for (const { message } of bodies) {
      if (message.kind !== 'reading') continue
      for (const value of Object.values(message.body.v)) {
        values++
        if (value === null) failed++
        else expect(Number.isFinite(value)).toBe(true)
      }
    }
    expect(values).toBeGreaterThan(900_000)
    expect(failed / values).toBeLessThan(1e-4)
  })

  test('counts every boot from 0 without a hole but for what a full buffer pushed out', () => {
    const seen = new Map<string, Set<number>>()
    for (const { message } of bodies) {
      if (message.kind !== 'reading' && message.kind !== 'batch') continue
      const key = `${message.probe}/${message.body.b}`
      const seqs = seen.get(key) ?? new Set<number>()
      seen.set(key, seqs)
      const news =
        message.kind === 'reading' ? [message.body.n] : message.body.r.map((row) => row[0]!)
      for (const seq of news) {
        expect(seqs.has(seq), `${key} ${seq} twice`).toBe(false)
        seqs.add(seq)
      }
    }
    const holes = Array.from(seen, ([key, seqs]) => {
      const top = Array.from(seqs).reduce((a, b) => Math.max(a, b), 0)
      return { probe: key.split('/')[0], missing: top + 1 - seqs.size }
    }).filter((one) => one.missing > 0)
    // Six days out of reach are 144 hourly readings; the buffer holds 96.
    expect(holes).toEqual([{ probe: 'heron2', missing: 48 }])
  })

  test('brings uptime that agrees with arrival to within the error of the clocks', () => {
    const boots = new Map<string, { u: number; at: number }>()
    for (const { arrival, message } of bodies) {
      if (message.kind !== 'reading') continue
      const key = `${message.probe}/${message.body.b}`
      const first = boots.get(key)
      if (first === undefined) boots.set(key, { u: message.body.u, at: arrival.arrivedAt })
      else {
        const real = (arrival.arrivedAt - first.at) / 1000
        const told = message.body.u - first.u
        expect(Math.abs(told - real)).toBeLessThan(5 + 0.01 * real)
      }
    }
  })

  test('is the same each time, byte for byte', () => {
    const again = historyArrivals(scenario, NOW)
    for (let i = 0; i < 20_000; i++) {
      const next = again.next()
      expect(next.done).toBe(false)
      if (next.done !== true) {
        expect(Buffer.compare(next.value.payload, arrivals[i]!.payload)).toBe(0)
        expect(next.value.arrivedAt).toBe(arrivals[i]!.arrivedAt)
      }
    }
  })
})

test('thirty days go through the intake into the store and are found there', async () => {
  const scenario = recentScenario(NOW, 30)
  using folder = tempDir()
  const stores = await openStores(folder.path)
  try {
    const { garden, readings } = stores
    const ingest = createIngest({ garden, readings, clock: () => NOW, log: quiet })
    await plantDemo(garden, scenario, NOW)
    const progress: number[] = []
    const sent = await loadHistory({
      ingest: (batch) => ingest.ingest(batch),
      scenario,
      now: NOW,
      onProgress: (done) => progress.push(done),
    })
    await readings.settle()

    expect((await garden.garden()).name).toBe(scenario.garden.name)
    const beds = await garden.beds()
    expect(beds.map((bed) => bed.name)).toEqual(scenario.beds.map((bed) => bed.name))
    expect((await garden.spots()).length).toBe(scenario.beds.flatMap((bed) => bed.spots).length)
    const adopted = scenario.probes.filter((probe) => probe.adopted)
    const probes = await garden.probes()
    expect(probes.map((probe) => probe.id).toSorted()).toEqual(
      adopted.map((one) => one.id).toSorted(),
    )
    expect(probes.every((probe) => probe.state === 'on' && probe.firmware !== null)).toBe(true)
    expect((await garden.channels()).length).toBe(4 * adopted.length)
    const told = [scenario.treatments, scenario.samplings, scenario.notes].flat().length
    expect((await garden.journal({})).length).toBeGreaterThanOrEqual(told)

    const counts = await readings.counts()
    expect(counts.quarantined).toBe(0)
    expect(counts.duplicates).toBe(0)
    expect(counts.lost).toBe(0)
    // Nothing stayed away, so nobody was asked for anything.
    expect(await garden.openOrders(0)).toEqual([])
    // State, birth and channels of every boot are messages too; batches hold several readings.
    expect(counts.readings).toBeGreaterThan(0.98 * sent)
    const noon = Math.floor(NOW / DAY - 12) * DAY + 12 * HOUR
    const [moss, backfilled] = await readings.buckets([
      { probe: 'moss1', channel: 'phmv', from: NOW - DAY, to: NOW, step: 'raw' },
      { probe: 'lantern2', channel: 'm1', from: noon - DAY, to: noon + DAY, step: 'hour' },
    ])
    expect(moss!.time.length).toBe(96)
    // Five hours out of reach, twelve days ago, came as batches: no hour is missing. One of the four of an hour may fall to its neighbour.
    expect(backfilled!.time.length).toBe(48)
    expect(Array.from(backfilled!.count).every((count) => count >= 3)).toBe(true)
    expect(
      progress.every((done, i) => done >= 0 && done <= 1 && (i === 0 || done >= progress[i - 1]!)),
    ).toBe(true)
    expect(progress.at(-1)).toBe(1)
  } finally {
    await stores.close()
  }
})

test('a store that refuses ends the loading', async () => {
  const scenario = recentScenario(NOW, 2)
  let calls = 0
  const loading = loadHistory({
    ingest: () => {
      calls++
      return Promise.reject(new Error('no room'))
    },
    scenario,
    now: NOW,
  })
  await expect(loading).rejects.toThrow('no room')
  expect(calls).toBe(1)
})
