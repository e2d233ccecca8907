import { expect, test } from 'vitest'
import { journalOf, plantDemo } from '#hub/demo/garden.ts'
import { probeHistory } from '#hub/demo/probe-history.ts'
import { HOUR, MINUTE, SECOND } from '#hub/model/clock.ts'
import { holdsAt } from '#hub/model/probe.ts'
import { demoScenario } from '#hub/simulator/demo-scenario.ts'
import { simulateGarden } from '#hub/simulator/garden-simulation.ts'
import { openStores } from '#hub/store/open.ts'
import { decode, type Decoded } from '#hub/wire/payload.ts'
import { tempDir } from '../../support/temp-dir.ts'

const NOW = Date.UTC(2026, 10, 25, 13, 37, 11)
const scenario = demoScenario({ seed: 20260, now: NOW })

test('the planted garden is one that a gardener could have entered', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  const { garden } = stores
  try {
    await plantDemo(garden, scenario, NOW)
    const beds = await garden.beds()
    expect(beds.length).toBeGreaterThanOrEqual(6)
    expect(new Set(beds.map(({ texture }) => texture)).size).toBeGreaterThanOrEqual(4)
    expect(new Set(beds.flatMap(({ crops }) => crops)).size).toBeGreaterThanOrEqual(8)
    const probes = await garden.probes()
    expect(probes.length).toBeGreaterThanOrEqual(16)
    expect(probes.every(({ adoptedAt }) => adoptedAt !== null && adoptedAt <= NOW)).toBe(true)

    const spots = await garden.spots()
    const now = (await garden.placements()).filter((one) => holdsAt(one, NOW))
    expect(now.map(({ probe }) => probe).toSorted()).toEqual(probes.map(({ id }) => id).toSorted())
    expect(new Set(now.map(({ spotId }) => spotId)).size, 'one probe a spot').toBe(now.length)
    for (const bed of beds) {
      const own = spots.filter(({ bedId }) => bedId === bed.id).map(({ id }) => id)
      expect(
        now.some(({ spotId }) => own.includes(spotId!)),
        bed.name,
      ).toBe(true)
    }
    const moved = (await garden.placements()).filter(({ probe }) => probe === 'drizzle2')
    expect(moved).toHaveLength(2)
    expect(moved[0]!.to).toBe(moved[1]!.from)

    for (const { id } of probes) {
      const calibrations = await garden.calibrations(id)
      const first = scenario.probes.find((one) => one.id === id)!.from
      for (const kind of ['electrode', 'moisture'] as const) {
        const dated = calibrations.filter((one) => one.kind === kind).map(({ at }) => at)
        expect(dated[0], `${id} has a ${kind} calibration from its start`).toBe(first)
        expect(dated.every((at) => at <= NOW)).toBe(true)
      }
      for (const one of calibrations) {
        if (one.kind === 'moisture') expect(one.dryRaw).toBeGreaterThan(one.wetRaw + 1000)
      }
    }

    const journal = await garden.journal({})
    expect(new Set(journal.map(({ kind }) => kind))).toEqual(
      new Set(['treatment', 'irrigation', 'sample', 'service', 'note']),
    )
    expect(journal.every(({ at }) => at <= NOW && at >= scenario.start)).toBe(true)
    for (const entry of journal) {
      const bed = beds.find(({ id }) => id === entry.bedId)!
      expect(entry.at, `${bed.name} stood before: ${entry.text}`).toBeGreaterThanOrEqual(
        bed.createdAt,
      )
    }
  } finally {
    await stores.close()
  }
})

test('what was measured by hand lies near the soil, and the live event is not written down', () => {
  const garden = simulateGarden(scenario)
  const journal = journalOf(scenario, NOW)
  const samples = journal.filter(({ kind }) => kind === 'sample')
  expect(samples.length).toBeGreaterThan(8)
  for (const { bed, at, ph } of samples) {
    // A slurry reads a little higher, and scatters (common practice, no source).
    expect(Math.abs(ph! - garden.bed(bed).ph(at) - 0.15)).toBeLessThan(0.45)
  }
  const { event } = scenario.liveEvent
  const recent = journal.filter(({ bed, at, kind }) => {
    return bed === event.bed && kind === 'treatment' && at > NOW - 160 * 24 * HOUR
  })
  expect(recent, 'nothing would explain it away').toEqual([])
  expect(journal.map(({ at }) => at)).toEqual(journal.map(({ at }) => at).toSorted((a, b) => a - b))
})

test('texts name nothing but the garden itself: no people, no brands, no addresses', () => {
  const own = new Set(
    [
      scenario.garden.name,
      ...scenario.beds.flatMap(({ name, spots }) => [name, ...spots.map((spot) => spot.name)]),
      ...scenario.probes.map(({ name }) => name),
    ].flatMap((name) => name.split(' ')),
  )
  const texts = [...journalOf(scenario, NOW).map(({ text }) => text), scenario.liveEvent.story]
  for (const text of texts) {
    const inside = Array.from(text.matchAll(/(?<![.:?!] )(?<!^)\b[A-Z]\w*/g), ([word]) => word)
    expect(
      inside.filter((word) => !own.has(word)),
      text,
    ).toEqual([])
    expect(text).not.toMatch(/[®™@]|https?:|www\./)
  }
})

test('what can burn or be breathed in is written down with its cautions', () => {
  const risky = scenario.treatments.filter(({ material }) => /lime|ash/.test(material))
  expect(risky.length).toBeGreaterThanOrEqual(2)
  for (const { text } of risky) expect(text).toMatch(/gloves/i)
})

type Late = { readonly at: number; readonly message: Decoded }

function historyOf(id: string, from: number, to: number): readonly Late[] {
  const garden = simulateGarden(scenario)
  return Array.from(probeHistory(scenario, garden.probe(id)))
    .filter(({ arrivedAt }) => arrivedAt >= from && arrivedAt < to)
    .map(({ arrivedAt, topic, payload }) => {
      const message = decode(topic, Buffer.from(payload), { strict: true })
      if ('problems' in message) throw new Error(payload)
      return { at: arrivedAt, message }
    })
}

test.each([
  { id: 'lantern2', hubAway: false, how: 'is declared off by its broker' },
  { id: 'kettle1', hubAway: true, how: 'goes unnoticed while the hub is away' },
])('a probe out of reach $how, and makes up for it afterwards', ({ id, hubAway }) => {
  const fault = scenario.probes
    .find((one) => one.id === id)!
    .faults.find((one) => one.kind === 'outage' && one.hubAway === hubAway)!
  const around = historyOf(id, fault.from - HOUR, fault.to + HOUR)
  const during = around.filter(({ at }) => at >= fault.from + 5 * SECOND && at < fault.to)
  if (hubAway) expect(during).toEqual([])
  else {
    expect(during.map(({ at, message }) => [at - fault.from, message.kind])).toEqual([
      [90 * SECOND, 'state'],
    ])
  }
  const back = around.filter(({ at }) => at >= fault.to)
  expect(back[0]!.message).toMatchObject({ kind: 'state', body: { s: 'on' } })
  expect(back[0]!.at - fault.to).toBeLessThan(2 * MINUTE)
  const batches = back.flatMap(({ message }) => (message.kind === 'batch' ? [message.body] : []))
  const rows = batches.flatMap(({ r }) => r)
  expect(rows.length).toBeGreaterThan(4)
  for (const [i, row] of rows.entries()) {
    if (i > 0) expect(row[0]).toBe(rows[i - 1]![0]! + 1)
    expect(row[1]).toBeLessThanOrEqual(batches[0]!.u)
  }
  // The rows join what came before to what comes after, without a hole.
  const before = around.filter(({ at }) => at < fault.from + 5 * SECOND)
  const lastBefore = before.findLast(({ message }) => message.kind === 'reading')!.message
  const firstAfter = back.find(({ message }) => message.kind === 'reading')!.message
  if (lastBefore.kind !== 'reading' || firstAfter.kind !== 'reading') throw new Error('no reading')
  expect(rows[0]![0]).toBe(lastBefore.body.n + 1)
  expect(firstAfter.body.n).toBe(rows.at(-1)![0]! + 1)
})
