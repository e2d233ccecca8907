import fc from 'fast-check'
import { expect, test } from 'vitest'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { readilyAvailableWater, totalAvailableWater } from '#hub/agronomy/moisture-limits.ts'
import { textureRow } from '#hub/agronomy/textures.ts'
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

test('the store of FAO-56 Example 36, tomato on silt: stress begins where the readily available water ends', () => {
  const zone = { fieldCapacity: 0.32, wiltingPoint: 0.15, rootDepthM: 0.8 }
  const tawMm = totalAvailableWater(zone)
  // Printed: 136 mm in all, 54 mm readily.
  expect(tawMm).toBeCloseTo(136, 9)
  const rawMm = readilyAvailableWater(zone, 0.4)
  expect(Math.abs(rawMm - 54)).toBeLessThan(1)
  const ks = (depletionMm: number): number =>
    stepBucket({ depletionMm, tawMm, roomMm: 100, p: 0.4 }, 5, 0, 1).ks
  expect(ks(rawMm)).toBeCloseTo(1, 12)
  expect(ks(rawMm + 1)).toBeLessThan(1)
  expect(ks(tawMm)).toBe(0)
})

test.each(['sandy loam', 'loam', 'clay loam', 'raised-bed mix'] as const)(
  'a year of a %s bed: rain and cans equal what was used, what left and what is stored',
  (texture) => {
    const startMs = Date.UTC(2026, 0, 1)
    const { climate } = demoScenario({ seed: 1, now: startMs })
    const sky = () => weather(climate, startMs, seededRandom(5))
    const habit = { at: 0.3, keenness: 0.9, refill: 0.9, neglect: [] }
    const bed = bedWater({
      texture,
      depthM: 0.3,
      habit,
      weather: sky(),
      solarOffsetH: 0,
      startMs,
      random: seededRandom(2),
    })
    const row = textureRow(texture)
    const end = startMs + 365 * DAY
    const waterings = bed.waterings(startMs, end)
    const theta = Array.from({ length: 365 * 24 + 1 }, (_, h) => bed.theta(startMs + h * HOUR))
    expect(
      theta.every((one) => one > row.wiltingPoint - 1e-9 && one <= row.saturation + 1e-9),
    ).toBe(true)
    // The share available is 0 at wilting point and 1 at field capacity of the published texture row.
    for (let h = 0; h < theta.length; h += 97) {
      const share = (theta[h]! - row.wiltingPoint) / (row.fieldCapacity - row.wiltingPoint)
      expect(bed.available(startMs + h * HOUR)).toBeCloseTo(share, 9)
    }

    // The books kept anew from the weather and the waterings alone.
    const again = sky()
    let depletionMm = 1000 * 0.3 * (row.fieldCapacity - theta[0]!)
    let [inMm, usedMm, lostMm, potentialMm] = [0, 0, 0, 0]
    const drains = 1 - Math.exp(-1 / (4 + 75 * row.wiltingPoint))
    for (let h = 0; h < 365 * 24; h++) {
      const at = startMs + h * HOUR
      const cans = waterings.filter((one) => one.at === at).reduce((sum, one) => sum + one.mm, 0)
      const waterMm = again.rainMm.hour(h) + cans
      const step = stepBucket(
        {
          depletionMm,
          tawMm: totalAvailableWater({ ...row, rootDepthM: 0.3 }),
          roomMm: 300 * (row.saturation - row.fieldCapacity),
          p: 0.4,
        },
        again.et0Mm(h),
        waterMm,
        drains,
      )
      depletionMm = step.depletionMm
      inMm += waterMm
      usedMm += step.etMm
      lostMm += step.lostMm
      potentialMm += again.et0Mm(h)
    }
    const storedMm = 1000 * 0.3 * (theta.at(-1)! - theta[0]!)
    expect(inMm - usedMm - lostMm - storedMm).toBeCloseTo(0, 6)
    // A garden that is looked after: most of what the air would take is taken, some rain goes below.
    expect(usedMm / potentialMm).toBeGreaterThan(0.8)
    expect(usedMm / potentialMm).toBeLessThanOrEqual(1)
    expect(lostMm).toBeGreaterThan(20)
    expect(waterings.length).toBeGreaterThan(30)
  },
)

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
