import fc from 'fast-check'
import { expect, test } from 'vitest'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { demoScenario } from '#hub/simulator/demo-scenario.ts'
import { bedWater, stepBucket } from '#hub/simulator/moisture.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import { weather } from '#hub/simulator/weather.ts'

test('ten days without water as in FAO Irrigation and Drainage Paper 56 (1998), Example 37', () => {
  // TAW 160 mm, RAW 64 mm (p 0.4, not adjusted), Dr 55 mm at the start, ETo 5 mm/day, Kc 1.2.
  const printed = [61.0, 67.0, 72.8, 78.3, 83.4, 88.2, 92.6, 96.9, 100.8, 104.5]
  const printedKs = [1, 1, 0.97, 0.91, 0.85, 0.8, 0.75, 0.7, 0.66, 0.62]
  let depletionMm = 55
  for (const [day, expected] of printed.entries()) {
    const step = stepBucket({ depletionMm, tawMm: 160, roomMm: 100, p: 0.4 }, 5 * 1.2, 0, 1)
    depletionMm = step.depletionMm
    expect(Math.abs(depletionMm - expected), `Dr, day ${day + 1}`).toBeLessThan(0.15)
    expect(Math.abs(step.ks - printedKs[day]!), `Ks, day ${day + 1}`).toBeLessThan(0.006)
  }
})

test('no step makes or loses water', () => {
  fc.assert(
    fc.property(
      fc.double({ min: -60, max: 80, noNaN: true }),
      fc.double({ min: 0, max: 9, noNaN: true }),
      fc.double({ min: 0, max: 90, noNaN: true }),
      fc.double({ min: 0, max: 1, noNaN: true }),
      (depletionMm, etcMm, waterMm, drains) => {
        const step = stepBucket(
          { depletionMm, tawMm: 80, roomMm: 60, p: 0.4 },
          etcMm,
          waterMm,
          drains,
        )
        // Water stored is the negative of what is missing.
        const gained = depletionMm - step.depletionMm
        expect(gained).toBeCloseTo(waterMm - step.etMm - step.lostMm, 9)
        expect(step.depletionMm).toBeGreaterThanOrEqual(-60)
        expect(step.lostMm).toBeGreaterThanOrEqual(0)
        expect(step.etMm).toBeLessThanOrEqual(etcMm)
      },
    ),
    { seed: 7 },
  )
})

test('a dry soil gives up no more water than it has', () => {
  let depletionMm = 0
  for (let day = 0; day < 400; day++) {
    const bucket = { depletionMm, tawMm: 40, roomMm: 60, p: 0.4 }
    depletionMm = stepBucket(bucket, 5, 0, 1).depletionMm
  }
  expect(depletionMm).toBeLessThanOrEqual(40)
  expect(depletionMm).toBeGreaterThan(39)
})

test('a neglected bed dries out in midsummer, a cared-for one does not', () => {
  const { climate } = demoScenario({ seed: 1, now: Date.UTC(2026, 10, 25) })
  const startMs = Date.UTC(2026, 5, 1)
  const spell = { from: startMs + 40 * DAY, to: startMs + 65 * DAY }
  const water = (neglect: readonly { from: number; to: number }[]) =>
    bedWater({
      texture: 'loam',
      depthM: 0.3,
      habit: { at: 0.3, keenness: 0.9, refill: 0.9, neglect },
      weather: weather(
        { ...climate, wetAfterDry: [0, 0], wetAfterWet: [0, 0] },
        startMs,
        seededRandom(1),
      ),
      solarOffsetH: 0,
      startMs,
      random: seededRandom(2),
    })
  const neglected = water([spell])
  const cared = water([])
  const hoursOf = (from: number, to: number): number[] =>
    Array.from({ length: (to - from) / HOUR }, (_, h) => from + h * HOUR)
  expect(
    Math.min(...hoursOf(spell.from, spell.to).map((at) => neglected.available(at))),
  ).toBeLessThan(0.2)
  expect(
    Math.min(...hoursOf(spell.from, spell.to).map((at) => cared.available(at))),
  ).toBeGreaterThan(0.35)
  expect(neglected.waterings(spell.from, spell.to)).toEqual([])
  expect(cared.waterings(spell.from, spell.to).length).toBeGreaterThan(3)
})
