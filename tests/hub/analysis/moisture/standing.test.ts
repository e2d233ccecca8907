import { expect, test } from 'vitest'
import { readilyAvailableWater, totalAvailableWater } from '#hub/agronomy/moisture-limits.ts'
import { textureRow } from '#hub/agronomy/textures.ts'
import { startWater } from '#hub/analysis/moisture/start-water.ts'
import {
  stepWaterStanding,
  WATER_DEADBAND,
  type WaterCourse,
} from '#hub/analysis/moisture/step-water-standing.ts'
import { stepWater } from '#hub/analysis/moisture/step-water.ts'
import {
  soakedAbove,
  type SpotWater,
  waterStanding,
} from '#hub/analysis/moisture/water-standing.ts'
import { waterLimits } from '#hub/analysis/moisture/water-limits.ts'
import type { WaterState } from '#hub/analysis/moisture/water-state.ts'
import { waterStress } from '#hub/analysis/moisture/water-stress.ts'
import { waterGrounds, waterSentence } from '#hub/analysis/moisture/water-words.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { seededRandom } from '#tests/support/random.ts'
import type { Texture } from '#hub/model/bed.ts'
import { bed, NOW } from '../case.ts'

/** FAO-56 Example 36, silt with FC 0.32 and WP 0.15: [crop, Zr, p, TAW, RAW]; onion and maize from memory. */
test.each([
  ['tomato', 0.8, 0.4, 136, 54],
  ['onion', 0.4, 0.3, 68, 20],
  ['maize', 1.2, 0.55, 204, 112],
])('FAO-56 Example 36: %s', (_, rootDepthM, depletion, total, readily) => {
  const zone = { fieldCapacity: 0.32, wiltingPoint: 0.15, rootDepthM }
  expect(Math.abs(totalAvailableWater(zone) - total)).toBeLessThan(1)
  expect(Math.abs(readilyAvailableWater(zone, depletion) - readily)).toBeLessThan(1)
})

/** FAO-56 Table 19, last column, amount available in mm per m of depth (printed ranges, from memory). */
test.each([
  ['sand', 50, 110],
  ['loamy sand', 60, 120],
  ['sandy loam', 110, 150],
  ['loam', 130, 180],
  ['silt loam', 130, 190],
  ['silt', 160, 200],
  ['silty clay loam', 130, 180],
  ['silty clay', 130, 190],
  ['clay', 120, 200],
] as const)(
  '%s: the ranges of FAO-56 Table 19 hold the water that it prints beside them',
  (texture, low, high) => {
    const row = textureRow(texture).fao56!
    const middle = ([a, b]: readonly [number, number]): number => (a + b) / 2
    const total = totalAvailableWater({
      fieldCapacity: middle(row.fieldCapacity),
      wiltingPoint: middle(row.wiltingPoint),
      rootDepthM: 1,
    })
    expect(total).toBeGreaterThanOrEqual(low - 11)
    expect(total).toBeLessThanOrEqual(high)
    expect(Math.abs(total - (low + high) / 2)).toBeLessThanOrEqual(30.1)
  },
)

test('FAO-56 Example 37: ten days without water, Ks from the depletion at the start of the day', () => {
  const zone = { fieldCapacity: 0.32, wiltingPoint: 0.12, rootDepthM: 0.8 }
  const total = totalAvailableWater(zone)
  expect(total).toBeCloseTo(160, 9)
  expect(readilyAvailableWater(zone, 0.4)).toBeCloseTo(64, 9)
  let missing = 55
  const ends: number[] = []
  const stress: number[] = []
  for (let day = 0; day < 10; day++) {
    const ks = waterStress(missing / total, 0.4)
    missing += ks * 1.2 * 5
    stress.push(ks)
    ends.push(missing)
  }
  const printed = [61.0, 67.0, 72.8, 78.3, 83.4, 88.2, 92.6, 96.9, 100.8, 104.5]
  const printedKs = [1, 1, 0.97, 0.91, 0.85, 0.8, 0.75, 0.7, 0.66, 0.62]
  for (const [day, end] of ends.entries()) {
    expect(Math.abs(end - printed[day]!), `day ${day + 1}`).toBeLessThanOrEqual(0.15)
    expect(Math.abs(stress[day]! - printedKs[day]!), `day ${day + 1}`).toBeLessThanOrEqual(0.006)
  }
  expect(waterStress(NaN, 0.4)).toBeNaN()
  expect(waterStress(1.2, 0.4)).toBe(0)
})

function spot(moisture: number, change: Partial<SpotWater> = {}): SpotWater {
  return {
    spotId: 1,
    spot: 'north',
    probe: 'probe1',
    state: startWater(),
    moisture,
    scale: 'volume',
    at: NOW,
    ...change,
  }
}

const lettuce = bed({ crops: ['lettuce'], depthM: 0.3, areaM2: 2 })

test('a bed of loam with lettuce: what is missing, what of it is ready, and the litres for it', () => {
  // By hand: FC 0.28, WP 0.14, Zr 0.3 m: TAW 42 mm; p 0.3: RAW 12.6 mm. At 0.21 half of TAW is missing: 21 mm, 42 L.
  const now = waterStanding(lettuce, [spot(0.21)], NOW)
  expect(now.totalMm).toBeCloseTo(42, 9)
  expect(now.readilyMm).toBeCloseTo(12.6, 9)
  expect(now.missingMm?.value).toBeCloseTo(21, 9)
  expect(now.refillL?.value).toBeCloseTo(42, 9)
  expect(now.refillL!.low).toBeLessThan(42)
  expect(now.refillL!.high).toBeGreaterThan(42)
  expect(now.daysUntilDry).toBeNull()
  const course = stepWaterStanding(null, now)
  expect(course).toMatchObject({ state: 'dry', since: NOW })
  expect(waterSentence(course, now)).toMatch(/Too dry: 21 mm .* 13 mm .*42 L/)
  expect(waterGrounds(now).join(' ')).toMatch(/Lettuce feels it first, at 30 %.*texture.*71 %/)
})

/** A state whose field capacity was learned from soakings. */
function soakedState(capacity: number, spread: number): WaterState {
  const soaked = [capacity, capacity, capacity]
  return { ...startWater(), scale: 'volume', soaked, capacity, capacitySpread: spread }
}

test('the doubt of what is missing: field capacity by how it is known, and the places of the bed', () => {
  // Texture: 0.3 x 0.28 = 0.084 at 0.21 / 0.28 over a span of 0.14 is 0.45; one place: 1.96 x 0.1.
  const one = waterStanding(lettuce, [spot(0.21)], NOW).missing!
  expect(one.value).toBeCloseTo(0.5, 9)
  expect(one.high - one.value).toBeCloseTo(Math.hypot(0.45, 0.196), 9)
  expect(one.value - one.low).toBeCloseTo(Math.hypot(0.45, 0.196), 9)
  // Learned: 0.06 x 0.3 = 0.018, at 0.225 / 0.3 over a span of 0.15: 0.09. Two places at 0.5 and 0.3.
  const known = { state: soakedState(0.3, 0.01) }
  const two = waterStanding(
    lettuce,
    [spot(0.225, known), spot(0.255, { ...known, spotId: 2 })],
    NOW,
  )
  const ofCapacity = (0.09 + 0.102) / 2
  expect(two.missing!.value).toBeCloseTo(0.4, 9)
  expect(two.missing!.high - two.missing!.value).toBeCloseTo(Math.hypot(ofCapacity, 1.96 * 0.1), 9)
  // Soakings that left 0.03 apart say less than 0.018.
  const apart = waterStanding(
    lettuce,
    [spot(0.225, { state: soakedState(0.3, 0.03) })],
    NOW,
  ).missing!
  expect(apart.high - apart.value).toBeCloseTo(Math.hypot(0.15, 0.196), 9)
  // The highest seen: 0.2 x 0.3 = 0.06, so 0.3.
  const state: WaterState = { ...startWater(), scale: 'volume', seenHigh: 0.3 }
  const seen = waterStanding(lettuce, [spot(0.225, { state })], NOW).missing!
  expect(seen.high - seen.value).toBeCloseTo(Math.hypot(0.3, 0.196), 9)
})

test('a probe that is out of the soil or in frozen soil says nothing of the water', () => {
  const out = waterStanding(lettuce, [spot(0.02)], NOW)
  expect(out.missing).toBeNull()
  // The last hour taken in was frozen: what comes after it is a new piece.
  const frozen: WaterState = { ...startWater(), hour: NOW, unbrokenFrom: NOW + HOUR }
  expect(waterStanding(lettuce, [spot(0.12, { state: frozen })], NOW).missing).toBeNull()
  const thawed: WaterState = { ...startWater(), hour: NOW, unbrokenFrom: NOW }
  expect(waterStanding(lettuce, [spot(0.2, { state: thawed })], NOW).missing).not.toBeNull()
})

test('the sentence says what is missing, what to do, and when it will be dry', () => {
  const state: WaterState = {
    ...soakedState(0.28, 0.01),
    drying: { from: NOW - 3 * DAY, days: [0.29, 0.282, 0.274] },
  }
  const say = (moisture: number, change: Partial<SpotWater> = {}): string => {
    const now = waterStanding(lettuce, [spot(moisture, { state, ...change })], NOW)
    return waterSentence(stepWaterStanding(null, now), now)
  }
  expect(say(0.28)).toMatch(
    /^Well watered\. At this rate dry in about 5 days \(\d+ to \d+\), unless it rains\.$/,
  )
  expect(say(0.25)).toMatch(
    /^Moist: 9 mm .* fewer than the 13 mm .* dry in about 2 days \(0 to \d+\)/,
  )
  expect(say(0.2)).toMatch(/^Too dry: 24 mm .* 13 mm .* About 48 L .* on the whole bed/)
  expect(say(0.2)).not.toMatch(/rate/)
  const slow = { ...state, drying: { from: NOW - 3 * DAY, days: [0.28, 0.279, 0.278] } }
  expect(say(0.28, { state: slow })).toMatch(/Dry in more than 14 days/)
  expect(say(0.28, { state: startWater() })).toBe('Well watered.')
})

test('each spot is told with its share and how its field capacity is known; one without a reading too', () => {
  const spots = [
    spot(0.225, { state: soakedState(0.3, 0.01) }),
    spot(0.21, { spotId: 2, spot: 'south', probe: 'probe2' }),
    spot(0.21, { spotId: 3, spot: 'east', probe: 'probe3', at: NOW - DAY - 1 }),
    spot(0.21, { spotId: 4, spot: 'west', probe: 'probe4', at: NOW - DAY }),
  ]
  const now = waterStanding(lettuce, spots, NOW)
  expect(now.spots.map((one) => one.spot)).toEqual(['north', 'south', 'east', 'west'])
  expect(now.spots[0]?.available).toBeCloseTo(0.5, 9)
  expect(now.spots[1]?.available).toBeCloseTo(0.5, 9)
  expect(now.spots[2]).toMatchObject({ available: NaN, limits: null })
  expect(now.spots[3]?.available).toBeCloseTo(0.5, 9)
  expect(now.spots.map(({ limits }) => limits?.basis)).toEqual([
    'wet-ups',
    'texture',
    undefined,
    'texture',
  ])
  const grounds = waterGrounds(now).join('\n')
  expect(grounds).toMatch(/north: field capacity learned from 3 soakings\./)
  expect(grounds).toMatch(/south: field capacity from the table of the texture/)
  expect(grounds).toMatch(/Without a moisture reading: east\./)
  const renamed = waterGrounds(now, new Map([[3, 'by the shed']])).join('\n')
  expect(renamed).toMatch(/Without a moisture reading: by the shed\./)
  expect(renamed).toMatch(/north: field capacity/)
})

test('the last wetting is the newest of all spots, the one that is going on included', () => {
  const wetting = (onset: number) => ({
    onset,
    end: onset + HOUR,
    before: 0.2,
    peak: 0.3,
    drained: NaN,
  })
  const past = (...onsets: number[]): WaterState => ({
    ...startWater(),
    wettings: onsets.map(wetting),
  })
  const last = (...states: WaterState[]): number | null =>
    waterStanding(
      lettuce,
      states.map((state, i) => spot(0.25, { state, spotId: i })),
      NOW,
    ).lastWettingAt
  expect(last(startWater())).toBeNull()
  expect(last(past(NOW - 9 * DAY, NOW - 2 * DAY), past(NOW - 3 * DAY))).toBe(NOW - 2 * DAY)
  const going = { ...past(NOW - 2 * DAY), wetting: wetting(NOW - HOUR) }
  expect(last(going, past(NOW - 3 * DAY))).toBe(NOW - HOUR)
})

test('soaked begins where too little air is left, and always above field capacity', () => {
  const limits = (texture: Texture, scale: 'volume' | 'probe range') =>
    soakedAbove(scale, waterLimits(startWater(), scale, texture), texture)
  expect(limits('loam', 'probe range')).toBeCloseTo(1 - 0.1 / 0.46, 9)
  // Clay: saturated at 0.50 and 0.42 at field capacity, which leaves less than a tenth for air anyway.
  expect(limits('clay', 'volume')).toBeCloseTo(0.45, 9)
  expect(limits('clay', 'probe range')).toBeCloseTo(0.9, 9)
})

test('roots go no deeper than the bed, and the most thirsty crop decides', () => {
  const mixed = waterStanding(bed({ crops: ['tomato', 'spinach'], depthM: 0.25 }), [spot(0.2)], NOW)
  expect(mixed.roots).toMatchObject({ depthM: 0.25, depletion: 0.2 })
  const none = waterStanding(bed({ crops: [], depthM: 0.25 }), [spot(0.2)], NOW)
  expect(none.roots).toMatchObject({ depthM: 0.25, depletion: 0.5, sensitive: null })
  // Kale has no figure in Table 22, and what is not in the crop table at all has none either.
  for (const crop of ['kale', 'no such crop']) {
    const unknown = waterStanding(bed({ crops: [crop], depthM: 0.25 }), [spot(0.2)], NOW)
    expect(unknown.roots).toMatchObject({ depthM: 0.25, depletion: 0.5, sensitive: null })
  }
  const equal = waterStanding(bed({ crops: ['onion', 'carrot', 'radish'] }), [spot(0.2)], NOW)
  expect(equal.roots, 'of two alike the first').toMatchObject({ depletion: 0.3 })
  expect(equal.roots.sensitive).toMatch(/Onion/)
  const shallow = waterStanding(bed({ crops: ['strawberry'], depthM: 0.4 }), [spot(0.2)], NOW)
  expect(shallow.roots.depthM).toBe(0.2)
})

test('more water never means more depletion, fewer litres never more', () => {
  const random = seededRandom(11)
  for (let round = 0; round < 200; round++) {
    const rest = Array.from({ length: Math.floor(4 * random()) }, (_, i) =>
      spot(0.08 + 0.3 * random(), { spotId: i + 2 }),
    )
    const moisture = 0.08 + 0.3 * random()
    const less = waterStanding(lettuce, [spot(moisture), ...rest], NOW)
    const more = waterStanding(lettuce, [spot(moisture + 0.05 * random()), ...rest], NOW)
    expect(more.missingMm!.value).toBeLessThanOrEqual(less.missingMm!.value)
    expect(more.refillL!.value).toBeLessThanOrEqual(less.refillL!.value)
    expect(less.missingMm!.low).toBeLessThanOrEqual(less.missingMm!.value)
    expect(less.missingMm!.high).toBeGreaterThanOrEqual(less.missingMm!.value)
  }
})

test('spots are interchangeable, a probe that knows only its own range joins in, an old reading does not', () => {
  const spots = [
    spot(0.2),
    spot(0.24, { spotId: 2 }),
    spot(0.5, { spotId: 3, scale: 'probe range' }),
  ]
  const now = waterStanding(lettuce, spots, NOW)
  const turned = waterStanding(lettuce, spots.toReversed(), NOW)
  expect(turned.missing).toEqual(now.missing)
  expect(turned.totalMm).toBe(now.totalMm)
  const old = waterStanding(lettuce, [spot(0.1, { at: NOW - 2 * DAY })], NOW)
  expect(old.missing).toBeNull()
  expect(stepWaterStanding(null, old).state).toBe('unknown')
  expect(waterSentence(stepWaterStanding(null, old), old)).toMatch(/not known/)
  expect(waterStanding(lettuce, [], NOW).missing).toBeNull()
  const odd = waterStanding(lettuce, [spot(0.2, { scale: 'unknown' })], NOW)
  expect(odd.missing).toBeNull()
})

/** Courses over a list of moistures, one an hour, after those that were before. */
function courseOf(
  moistures: readonly number[],
  before: readonly WaterCourse[] = [],
): WaterCourse[] {
  let course = before.at(-1) ?? null
  return moistures.map((moisture, i) => {
    const at = NOW + (before.length + i) * HOUR
    course = stepWaterStanding(course, waterStanding(lettuce, [spot(moisture, { at })], at))
    return course
  })
}

/** Moisture at which so much of the readily available water is missing: loam, p 0.3. */
const used = (share: number): number => 0.28 - 0.14 * 0.3 * share

test('a bed turns dry when it has missed the readily available water for six hours, and moist only well inside', () => {
  const states = courseOf([
    ...Array.from({ length: 5 }, () => used(0.9)),
    ...Array.from({ length: 5 }, () => used(1.05)),
    used(0.95),
    ...Array.from({ length: 7 }, () => used(1.05)),
    ...Array.from({ length: 10 }, () => used(0.9)),
    ...Array.from({ length: 3 }, () => used(0.7)),
  ]).map(({ state }) => state)
  expect(states.slice(0, 17), 'five hours are not enough, and a break starts them anew').toEqual(
    Array.from({ length: 17 }, () => 'moist'),
  )
  expect(states.slice(17, 29), 'dry, and not moist again at 0.9').toEqual(
    Array.from({ length: 12 }, () => 'dry'),
  )
  expect(states.slice(29)).toEqual(['moist', 'moist'])
})

test('a well watered bed is moist only some hours after more than half of the ready water is missing', () => {
  const states = courseOf([
    used(0.2),
    ...Array.from({ length: 10 }, () => used(0.55)),
    ...Array.from({ length: 4 }, () => used(0.65)),
    ...Array.from({ length: 3 }, () => used(0.55)),
    ...Array.from({ length: 2 }, () => used(0.45)),
  ]).map(({ state }) => state)
  expect(states.slice(0, 14)).toEqual(Array.from({ length: 14 }, () => 'ample'))
  expect(states.slice(14)).toEqual(['moist', 'moist', 'moist', 'moist', 'moist', 'ample'])
})

test('readings that wander across an edge do not make the state flutter', () => {
  const random = seededRandom(3)
  for (const edge of [used(WATER_DEADBAND.dry.enterUsed), used(WATER_DEADBAND.ample.enterUsed)]) {
    const courses = courseOf(Array.from({ length: 500 }, () => edge + 0.006 * (random() - 0.5)))
    const changes = courses.filter(({ state }, i) => i > 0 && state !== courses[i - 1]!.state)
    expect(changes.length).toBeLessThanOrEqual(1)
  }
})

test('soil that has not drained two days after is waterlogged; a soaking that drains is not', () => {
  const margin = soakedAbove('volume', waterLimits(startWater(), 'volume', 'loam'), 'loam')
  expect(margin, 'loam: saturated at 0.46, a tenth of the volume for air').toBeCloseTo(0.36, 9)
  const soaked = courseOf(Array.from({ length: 60 }, () => 0.4))
  expect(soaked[47]?.state).toBe('ample')
  expect(soaked[48]?.state).toBe('waterlogged')
  const after = courseOf(
    Array.from({ length: 60 }, (_, i) => 0.4 - 0.02 * i).map((v) => Math.max(0.27, v)),
    soaked,
  )
  expect(after.at(-1)?.state).toBe('ample')
  // Half of the way from the margin back to field capacity is left: 0.32. Six hours below that, and it has drained.
  const leaving = courseOf([0.33, 0.33, ...Array.from({ length: 8 }, () => 0.31)], soaked).map(
    ({ state }) => state,
  )
  expect(leaving).toEqual([...Array.from({ length: 8 }, () => 'waterlogged'), 'ample', 'ample'])
  const broken = courseOf([
    ...Array.from({ length: 40 }, () => 0.4),
    ...Array.from({ length: 2 }, () => 0.33),
    ...Array.from({ length: 7 }, () => 0.4),
  ])
  expect(broken.at(-1)?.state, 'a lull is not draining').toBe('waterlogged')
  const drains = courseOf(
    Array.from({ length: 90 }, (_, i) => 0.28 + 0.12 * Math.exp(-i / 20)),
  ).map(({ state }) => state)
  expect(new Set(drains)).toEqual(new Set(['ample']))
  const at = NOW + 59 * HOUR
  const last = waterStanding(lettuce, [spot(0.4, { at })], at)
  expect(waterSentence(soaked[10]!, last)).toMatch(/^Soaked/)
  expect(waterSentence(soaked.at(-1)!, last)).toMatch(/for 2 days .* Do not water/)
})

/** Hours of a spot that dries in a straight line, with a swing of the day. */
function drying(days: number, perDay: number, from: number, start = 0.28): WaterState {
  const state = startWater()
  for (let i = 0; i < days * 24; i++) {
    const moisture = start - (perDay * i) / 24 + 0.008 * Math.sin((2 * Math.PI * i) / 24)
    stepWater(
      state,
      {
        hour: from + i * HOUR,
        moisture,
        moistureLow: moisture,
        moistureScale: 'volume',
        temperatureC: 15,
      },
      'loam',
    )
  }
  return state
}

test('days until dry come from the present rate, the daily swing left out, with their doubt', () => {
  const from = NOW - 4 * DAY
  const state = drying(4, 0.006, from)
  const now = waterStanding(lettuce, [spot(0.256, { state })], NOW)
  const { capacity, wilting } = waterLimits(state, 'volume', 'loam')
  const level = capacity - 0.3 * (capacity - wilting)
  const expected = Math.max(0, (0.256 - level) / 0.006)
  expect(now.rateFrom).toBe('now')
  expect(now.daysUntilDry!.value).toBeCloseTo(expected, 0)
  expect(expected).toBeGreaterThan(1)
  expect(now.daysUntilDry!.low).toBeLessThan(now.daysUntilDry!.value)
  expect(now.daysUntilDry!.high).toBeGreaterThan(now.daysUntilDry!.value)
  expect(waterSentence(stepWaterStanding(null, now), now)).toMatch(/dry in about \d+ days? \(/)
  const dry = waterStanding(lettuce, [spot(0.16, { state })], NOW)
  expect(dry.daysUntilDry!.value).toBe(0)
  const getting = waterStanding(lettuce, [spot(0.25, { state: drying(4, -0.004, from, 0.2) })], NOW)
  expect(getting.daysUntilDry, 'a soil that gets wetter').toBeNull()
})

test('spots that dry now win over those that only did before; both ends of the days are honest', () => {
  const learnedState = (days: number[], before: number[]): WaterState => ({
    ...soakedState(0.3, 0.01),
    drying: days.length === 0 ? null : { from: NOW - 4 * DAY, days },
    dryDowns: before.map((perDay) => ({ from: 0, to: 1, perDay, perDaySe: 0 })),
  })
  const now = learnedState([0.288, 0.282, 0.276], [0.03])
  const before = learnedState([], [0.03])
  const spots = [spot(0.28, { state: now }), spot(0.28, { state: before, spotId: 2 })]
  const both = waterStanding(lettuce, spots, NOW)
  expect(both.rateFrom).toBe('now')
  // Missing 0.02 of a span of 0.15, ready to 0.3: 0.025 are left, at 0.006 a day.
  expect(both.daysUntilDry!.value).toBeCloseTo(0.025 / 0.006, 6)
  const rate = { perDay: 0.006 / 0.15, se: (0.01 * 0.282) / Math.sqrt(2) / 0.15 }
  const { low, high } = both.missing!
  expect(low).toBeLessThan(0.1)
  expect(both.daysUntilDry!.low).toBeCloseTo(
    Math.max(0, (0.3 - high) / (rate.perDay + 1.96 * rate.se)),
    6,
  )
  expect(both.daysUntilDry!.high).toBeCloseTo((0.3 - low) / (rate.perDay - 1.96 * rate.se), 6)
  const past = waterStanding(lettuce, [spot(0.28, { state: before })], NOW)
  expect(past.rateFrom).toBe('before')
  expect(past.daysUntilDry!.value).toBeCloseTo(0.025 / 0.03, 6)
  const unsure = learnedState([0.29, 0.27, 0.289], [])
  const open = waterStanding(lettuce, [spot(0.28, { state: unsure })], NOW)
  expect(open.daysUntilDry!.high).toBe(Infinity)
  expect(waterSentence(stepWaterStanding(null, open), open)).not.toMatch(/Infinity|NaN/)
})

test('a bed whose probes know only their own range takes its volumes from the texture', () => {
  const range = waterStanding(lettuce, [spot(0.28 / 0.46, { scale: 'probe range' })], NOW)
  expect(range.totalMm).toBeCloseTo(42, 9)
  expect(range.missingMm!.value).toBeCloseTo(0, 9)
  const known = { ...startWater(), scale: 'volume' as const, seenHigh: 0.4 }
  const volume = waterStanding(
    lettuce,
    [spot(0.3, { state: known }), spot(0.5, { scale: 'probe range', spotId: 2 })],
    NOW,
  )
  // 0.4 at field capacity, half of it at wilting (loam): 0.2 x 300 mm.
  expect(volume.totalMm).toBeCloseTo(60, 9)
})
