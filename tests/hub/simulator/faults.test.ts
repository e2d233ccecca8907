import { expect, test } from 'vitest'
import { DAY, HOUR, MINUTE, SECOND } from '#hub/model/clock.ts'
import { demoScenario } from '#hub/simulator/demo-scenario.ts'
import { nernstSlope } from '#hub/simulator/electrode.ts'
import { spoil, type Fault, type Measured } from '#hub/simulator/faults.ts'
import { simulateGarden } from '#hub/simulator/garden-simulation.ts'
import { indexedNoise } from '#hub/simulator/random.ts'
import type { Scenario } from '#hub/simulator/scenario.ts'
import { boots, measuredAt, measurements } from '#hub/simulator/schedule.ts'

const NOW = Date.UTC(2026, 10, 25, 13, 37, 11)
const scenario = demoScenario({ seed: 20260, now: NOW })
const garden = simulateGarden(scenario)
/** The same garden in which nothing breaks. */
const sound: Scenario = {
  ...scenario,
  probes: scenario.probes.map((probe) => ({ ...probe, faults: [] })),
}
const soundGarden = simulateGarden(sound)

function theFault<K extends Fault['kind']>(id: string, kind: K): Extract<Fault, { kind: K }> {
  const fault = garden.probe(id).probe.faults.find((one) => one.kind === kind)
  expect(fault, `${id} ${kind}`).toBeDefined()
  return fault as Extract<Fault, { kind: K }>
}

/** What the fault adds to the pH, from the EMF with and without it at the temperature then. */
function addedPh(id: string, at: number): number {
  const broken = garden.probe(id).measure(at).values
  const whole = soundGarden.probe(id).measure(at).values
  return (whole.phmv! - broken.phmv!) / nernstSlope(broken.st!)
}

test('every kind of fault occurs in the demo', () => {
  const kinds = new Set(scenario.probes.flatMap(({ faults }) => faults.map(({ kind }) => kind)))
  expect([...kinds].toSorted()).toEqual(['drift', 'flat line', 'no power', 'outage', 'step'])
})

test('a step is there from its first moment and stays', () => {
  const { from, changePh } = theFault('drizzle3', 'step')
  expect(addedPh('drizzle3', from - 1)).toBe(0)
  // The slope of a real electrode is a few percent below the ideal one.
  for (const at of [from, from + DAY, NOW]) {
    expect(addedPh('drizzle3', at) / changePh).toBeGreaterThan(0.92)
    expect(addedPh('drizzle3', at) / changePh).toBeLessThan(1.001)
  }
})

test('a drift grows evenly and ends with the care the probe got', () => {
  const { from, to, phPer30d } = theFault('bramble1', 'drift')
  const perDay = (day: number): number => addedPh('bramble1', from + day * DAY) / day
  for (const day of [30, 60, 90]) {
    expect(perDay(day) / (phPer30d / 30)).toBeGreaterThan(0.9)
    expect(perDay(day) / (phPer30d / 30)).toBeLessThan(1.01)
  }
  expect(addedPh('bramble1', to)).toBe(0)
})

test('a flat line repeats one EMF while the other channels live on', () => {
  const { from, to } = theFault('kettle2', 'flat line')
  const { measure } = garden.probe('kettle2')
  const during = Array.from({ length: 48 }, (_, i) => measure(from + i * HOUR).values)
  expect(new Set(during.map(({ phmv }) => phmv)).size).toBe(1)
  expect(new Set(during.map(({ m1 }) => m1)).size).toBeGreaterThan(5)
  const after = Array.from({ length: 24 }, (_, i) => measure(to + i * HOUR).values.phmv)
  expect(new Set(after).size).toBeGreaterThan(12)
})

test('without power nothing is measured, and what follows is a new boot', () => {
  const { from, to } = theFault('moss3', 'no power')
  const all = boots(scenario, garden.probe('moss3').probe)
  const times = all.flatMap((boot) =>
    Array.from({ length: measurements(boot) }, (_, seq) => ({
      boot: boot.boot,
      at: measuredAt(boot, seq),
    })),
  )
  expect(times.filter(({ at }) => at >= from && at < to)).toEqual([])
  const before = times.findLast(({ at }) => at < from)!
  const after = times.find(({ at }) => at >= to)!
  expect(from - before.at).toBeLessThanOrEqual(HOUR)
  expect(after.at - to).toBeLessThan(5 * MINUTE)
  expect(after.boot).toBe(before.boot + 1)
})

test('boots are numbered from 1, follow each other, and none begins in or near an outage', () => {
  for (const probe of scenario.probes.filter((one) => one.adopted)) {
    const all = boots(scenario, probe)
    expect(all.map(({ boot }) => boot)).toEqual(all.map((_, i) => i + 1))
    for (const [i, boot] of all.entries()) {
      expect(boot.to, probe.id).toBeGreaterThan(boot.from)
      if (i > 0) expect(boot.from).toBeGreaterThanOrEqual(all[i - 1]!.to)
      const outage = probe.faults.find(
        (one) => one.kind === 'outage' && boot.from > one.from - HOUR && boot.from < one.to + HOUR,
      )
      expect(outage, probe.id).toBeUndefined()
    }
    expect(all.at(-1)!.to).toBe(NOW)
    expect(all.at(-1)!.intervalMs).toBe(scenario.denseMs)
  }
})

test('one reading in ten thousand is spoilt, in each of the ways such parts are known for', () => {
  const noise = indexedNoise(3, 'luck')
  const seen = new Map<string, number>()
  const n = 400_000
  for (let second = 0; second < n; second++) {
    const values: Measured = { phmv: 1.5, m1: 2000, st: 12, bat: 3.9 }
    spoil(values, noise, second)
    const changed = Object.entries({ phmv: 1.5, m1: 2000, st: 12, bat: 3.9 })
      .filter(([name, value]) => values[name as keyof Measured] !== value)
      .map(([name]) => `${name} ${values[name as keyof Measured]}`)
    expect(changed.length).toBeLessThanOrEqual(1)
    for (const one of changed) seen.set(one, (seen.get(one) ?? 0) + 1)
  }
  const total = [...seen.values()].reduce((a, b) => a + b, 0)
  // 40 expected; four standard deviations of a Poisson count.
  expect(total).toBeGreaterThan(15)
  expect(total).toBeLessThan(66)
  expect([...seen.keys()].toSorted()).toEqual([
    'm1 0',
    'm1 4095',
    'phmv 2047.9375',
    'phmv null',
    'st -127',
    'st 85',
  ])
})

test('nothing jumps in any channel where history ends and live readings begin', () => {
  // Largest step within 5 s that noise makes: six standard deviations of a difference.
  const most = {
    phmv: 6 * 1.5 * 0.012 * 59,
    m1: 6 * 1.5 * 4 + 1,
    st: 6 * 1.5 * 0.02 + 0.0625,
    bat: 0.1,
  }
  for (const { id } of scenario.probes) {
    const { measure } = garden.probe(id)
    for (let i = -10; i < 10; i++) {
      const before = measure(NOW + i * 5 * SECOND).values
      const after = measure(NOW + (i + 1) * 5 * SECOND).values
      for (const [name, limit] of Object.entries(most)) {
        const step = after[name as keyof Measured]! - before[name as keyof Measured]!
        expect(Math.abs(step), `${id} ${name} at ${i}`).toBeLessThan(limit)
      }
    }
  }
})
