import { expect, test } from 'vitest'
import { availableNow } from '#hub/analysis/moisture/available-now.ts'
import { startWater } from '#hub/analysis/moisture/start-water.ts'
import { stepWater } from '#hub/analysis/moisture/step-water.ts'
import { waterLimits } from '#hub/analysis/moisture/water-limits.ts'
import type { WaterState } from '#hub/analysis/moisture/water-state.ts'
import { quantile } from '#hub/analysis/stats/quantile.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { seededRandom } from '#tests/support/random.ts'
import { normal } from '../case.ts'

const FROM = 1_740_009_600_000

/**
 * A bed with weather, hour by hour: rain by a two-state Markov chain, evapotranspiration with season and day, FAO-56
 * balance down to the wilting point, what exceeds field capacity drains with 20 h. Gives its true field capacity too.
 */
function weathered(
  seed: number,
  days: number,
  fromDay: number,
): { moisture: number[]; capacity: number } {
  const random = seededRandom(seed)
  const capacity = 0.24 + 0.12 * random()
  const total = 250 * capacity * 0.6
  let wet = false
  let rainHours = 0
  let rain = 0
  let missing = 0.2 * total
  let excess = 0
  const moisture = Array.from({ length: days * 24 }, (_, i) => {
    const hour = i % 24
    if (hour === 0) {
      wet = random() < (wet ? 0.5 : 0.25)
      rainHours = wet ? 1 + Math.floor(4 * random()) : 0
      rain = (-6 * Math.log(1 - random())) / Math.max(1, rainHours)
    }
    const season = Math.sin((2 * Math.PI * (fromDay + i / 24 - 80)) / 365)
    const sun = hour >= 6 && hour < 18 ? (Math.PI / 24) * Math.sin((Math.PI * (hour - 6)) / 12) : 0
    const thirst = Math.min(1, (total - missing) / (0.6 * total))
    missing += thirst * sun * Math.max(0.3, 2.7 + 2.4 * season)
    if (hour >= 10 && hour < 10 + rainHours) missing -= rain
    excess = (excess + Math.max(0, -missing)) * Math.exp(-1 / 20)
    missing = Math.max(0, missing)
    const swing = 0.004 * Math.sin((2 * Math.PI * (hour - 15)) / 24)
    return capacity + (excess - missing) / 250 + swing + 0.003 * normal(random)
  })
  return { moisture, capacity }
}

/** A bed of field capacity 0.34 and wilting point 0.13 that drains with 20 h and dries by 0.012 a day. */
function bucket(
  days: number,
  options: {
    readonly seed?: number
    readonly everyDays?: number
    readonly water?: number
    readonly noise?: number
    readonly start?: number
  } = {},
): number[] {
  const { seed = 1, everyDays = 6, water = 0.1, noise = 0.003, start = 0.3 } = options
  const random = seededRandom(seed)
  let theta = start
  return Array.from({ length: days * 24 }, (_, i) => {
    if (i % (24 * everyDays) === 24 * everyDays - 17) theta = Math.min(0.44, theta + water)
    if (theta > 0.34) theta -= (theta - 0.34) * (1 - Math.exp(-1 / 20))
    const thirst = Math.min(1, Math.max(0, (theta - 0.13) / 0.126))
    theta -= (0.012 / 24) * thirst
    return theta + noise * normal(random)
  })
}

function learned(
  moisture: readonly number[],
  options: {
    readonly scale?: 'volume' | 'probe range'
    readonly temperatureC?: (i: number) => number
    readonly low?: (i: number) => number
    readonly state?: WaterState
    readonly from?: number
  } = {},
): WaterState {
  const state = options.state ?? startWater()
  for (const [i, value] of moisture.entries()) {
    stepWater(
      state,
      {
        hour: (options.from ?? FROM) + i * HOUR,
        moisture: value,
        moistureLow: options.low?.(i) ?? value,
        moistureScale: options.scale ?? 'volume',
        temperatureC: options.temperatureC?.(i) ?? 15,
      },
      'loam',
    )
  }
  return state
}

test('field capacity is what the bed holds a day after it was wetted, not what its texture says', () => {
  const state = learned(bucket(120))
  const limits = waterLimits(state, 'volume', 'loam')
  expect(limits.basis).toBe('wet-ups')
  expect(limits.wetUps).toBeGreaterThanOrEqual(15)
  expect(limits.capacity).toBeGreaterThan(0.325)
  expect(limits.capacity).toBeLessThan(0.36)
  expect(limits.spread).toBeLessThan(0.02)
  expect(availableNow(state, limits.capacity, 'volume', 'loam')).toBeCloseTo(1, 9)
  expect(availableNow(state, limits.wilting, 'volume', 'loam')).toBeCloseTo(0, 9)
})

test('field capacity of beds under rain: nine of ten within 6 % once they were soaked', () => {
  const errors = Array.from({ length: 40 }, (_, seed) => {
    const { moisture, capacity } = weathered(seed + 1, 180, 290)
    const limits = waterLimits(learned(moisture), 'volume', 'loam')
    return limits.basis === 'wet-ups' ? limits.capacity / capacity - 1 : NaN
  }).filter(Number.isFinite)
  expect(errors.length).toBeGreaterThanOrEqual(30)
  const sizes = Float64Array.from(errors, Math.abs).sort()
  expect(quantile(sizes, 0.9)).toBeLessThan(0.06)
  expect(Math.abs(quantile(Float64Array.from(errors).sort(), 0.5))).toBeLessThan(0.04)
})

test('light waterings that never fill the soil are no field capacity', () => {
  // Dries by 0.012 a day around 0.22 and gets 0.04 every third day: it never drains.
  const light = bucket(60, { everyDays: 3, water: 0.036, start: 0.22 })
  expect(Math.max(...light)).toBeLessThan(0.29)
  const state = learned(light)
  expect(state.wetUps).toBeGreaterThan(15)
  expect(waterLimits(state, 'volume', 'loam')).toMatchObject({ basis: 'seen', wetUps: 0 })
})

test('until enough wettings have drained the highest seen stands in, and before that the texture', () => {
  expect(waterLimits(startWater(), 'volume', 'loam')).toMatchObject({
    capacity: 0.28,
    wilting: 0.14,
    basis: 'texture',
    wetUps: 0,
  })
  // As a share of saturation for a probe that only knows its own dry and wet points.
  expect(waterLimits(startWater(), 'probe range', 'loam').capacity).toBeCloseTo(0.28 / 0.46, 9)
  const some = waterLimits(learned(bucket(5)), 'volume', 'loam')
  expect(some.basis).toBe('seen')
  expect(some.capacity).toBeGreaterThan(0.28)
  // A drought from the first day is not the most this soil can hold.
  const drought = learned(bucket(10, { everyDays: 100, start: 0.16 }))
  expect(waterLimits(drought, 'volume', 'loam').capacity).toBeCloseTo(0.7 * 0.28, 9)
  expect(availableNow(drought, 0.15, 'volume', 'loam')).toBeLessThan(0.6)
  expect(availableNow(startWater(), 0.2, 'unknown', 'loam')).toBeNaN()
  expect(availableNow(startWater(), NaN, 'volume', 'loam')).toBeNaN()
})

test('a wetting is told with its onset, rise, end and what drained in a day', () => {
  const series = Array.from({ length: 72 }, (_, i) =>
    i < 20 ? 0.2 : i < 24 ? 0.2 + 0.025 * (i - 19) : 0.3 - Math.min(0.04, 0.002 * (i - 24)),
  )
  const { wettings, wetUps } = learned(series)
  expect(wetUps).toBe(1)
  expect(wettings).toHaveLength(1)
  const [wetting] = wettings
  expect(wetting).toMatchObject({ before: 0.2, onset: FROM + 19 * HOUR })
  expect([FROM + 23 * HOUR, FROM + 24 * HOUR]).toContain(wetting?.end)
  expect(wetting?.peak).toBeCloseTo(0.3, 9)
  expect(wetting?.drained).toBeCloseTo(0.04, 2)
})

/** Soaked to 0.4 within an hour after a day at 0.3, then 0.005 less each hour for `fall`, then steady. */
const soaked = (fall: number, hours: number, then: readonly number[] = []): number[] => [
  ...Array.from({ length: 24 }, () => 0.3),
  ...Array.from({ length: hours }, (_, i) => 0.4 - Math.min(fall, 0.005 * i)),
  ...then,
]

test('what a soaking left after a day, less what still drains, is learned once', () => {
  const day = learned(soaked(0.06, 25))
  // By hand: it fell by 0.06, of which 0.012 was used; 0.3 of the rest is still to come: 0.34 - 0.0144.
  expect(day.soaked).toHaveLength(1)
  expect(day.soaked[0]).toBeCloseTo(0.3256, 9)
  expect(day.drained).toEqual(day.soaked)
  expect(day.drainedHigh).toBeCloseTo(0.3256, 9)
  expect(day.capacitySpread).toBe(0)
  expect(learned(soaked(0.06, 24)).drained, 'an hour before the day is over').toEqual([])
  expect(learned(soaked(0.06, 60)).drained, 'once').toHaveLength(1)
  // Light: it fell by less than 0.025, so plants may have taken all of it.
  const light = learned(soaked(0.0225, 30))
  expect(light.soaked).toEqual([])
  expect(light.drained[0]).toBeCloseTo(0.3775 - 0.3 * 0.0105, 9)
  expect(learned(soaked(0.01, 30)).drained[0], 'nothing has drained').toBeCloseTo(0.39, 9)
})

test('watered again after 18 hours the reading before it counts, sooner it does not', () => {
  const again = (hours: number): WaterState => learned(soaked(0.06, hours, [0.42, 0.42]))
  expect(again(20).drained).toHaveLength(1)
  expect(again(20).wettings[0]?.drained).toBeCloseTo(0.06, 9)
  expect(again(17).drained).toHaveLength(0)
  expect(again(17).wettings[0]?.drained).toBeNaN()
  expect(again(17).wetUps).toBe(2)
})

test('a day after is not two days after, and not after the probe was pulled', () => {
  const silent = learned(soaked(0.06, 12))
  const late = (hours: number): WaterState =>
    learned(
      Array.from({ length: 12 }, () => 0.34),
      { state: structuredClone(silent), from: FROM + (24 + hours) * HOUR },
    )
  expect(late(20).drained).toHaveLength(1)
  expect(late(31).drained).toHaveLength(0)
  const pulled = soaked(0.06, 40)
  pulled[40] = 0
  expect(learned(pulled).drained).toHaveLength(0)
})

test('of forty wettings and thirty soakings that are remembered the newest stay', () => {
  const many = learned(bucket(400, { everyDays: 5, water: 0.13 }))
  expect(many.wetUps).toBeGreaterThan(75)
  expect(many.wettings).toHaveLength(20)
  expect(many.drained).toHaveLength(40)
  expect(many.soaked).toHaveLength(30)
  expect(many.wettings.at(-1)!.onset).toBeGreaterThan(FROM + 394 * DAY)
  const quantiles = (list: readonly number[], p: number): number =>
    quantile(Float64Array.from(list).sort(), p)
  expect(many.capacity).toBe(quantiles(many.soaked, 0.75))
  expect(many.capacitySpread).toBeCloseTo(many.capacity - quantiles(many.soaked, 0.25), 12)
  expect(many.drainedHigh).toBe(quantiles(many.drained, 0.95))
})

test('frost and values that no probe can have are passed over', () => {
  const still = Array.from({ length: 60 }, () => 0.25)
  const cold = (celsius: number): number =>
    learned(
      still.map((value, i) => (i >= 30 && i < 33 ? 0.15 : value)),
      { temperatureC: (i) => (i >= 30 && i < 33 ? celsius : 4) },
    ).wetUps
  expect([cold(0.4), cold(0.6)]).toEqual([0, 1])
  const odd = learned(
    still.map((value, i) => (i === 30 ? 1.2 : i === 40 ? -0.1 : i === 50 ? NaN : value)),
  )
  expect(odd.wetUps).toBe(0)
  expect(odd.seenHours).toBe(57)
  const unknown = startWater()
  const row = { hour: FROM, moisture: 0.2, moistureLow: 0.2, temperatureC: 10 }
  stepWater(unknown, { ...row, moistureScale: 'unknown' }, 'loam')
  expect(unknown).toEqual(startWater())
})

test('of the same hour twice the first counts', () => {
  const row = { hour: FROM, moistureLow: 0.2, temperatureC: 10, moistureScale: 'volume' as const }
  const once = startWater()
  stepWater(once, { ...row, moisture: 0.2 }, 'loam')
  const twice = structuredClone(once)
  stepWater(twice, { ...row, moisture: 0.4 }, 'loam')
  expect(twice).toEqual(once)
})

test('a rise that takes hours began where it left the level before, at any hour of the day', () => {
  for (let shift = 0; shift < 24; shift++) {
    // 0.2, then 0.2 + 0.003 (still before), 0.21, 0.22, 0.23, 0.24.
    const series = [
      ...Array.from({ length: 24 + shift }, () => 0.2),
      0.203,
      0.21,
      0.22,
      0.23,
      0.24,
      ...Array.from({ length: 12 }, () => 0.24),
    ]
    const state = learned(series)
    expect(state.wetUps, `shift ${shift}`).toBe(1)
    expect(state.wettings[0]).toMatchObject({
      onset: FROM + (24 + shift) * HOUR,
      before: 0.203,
      end: FROM + (28 + shift) * HOUR,
      peak: 0.24,
    })
  }
})

test('a rise of 0.03 within a day is a wetting, the same over two days or a smaller one is not', () => {
  const ramp = (rise: number, hours: number): number[] =>
    Array.from({ length: 120 }, (_, i) => 0.2 + rise * Math.min(1, Math.max(0, (i - 30) / hours)))
  expect(learned(ramp(0.031, 12)).wetUps).toBe(1)
  expect(learned(ramp(0.029, 12)).wetUps).toBe(0)
  expect(learned(ramp(0.05, 48)).wetUps).toBe(0)
  // On a probe that knows only its own range the same share of field capacity counts: 0.107 of 0.426 to 0.609.
  expect(learned(ramp(0.04, 12), { scale: 'probe range' }).wetUps).toBe(0)
  expect(learned(ramp(0.07, 12), { scale: 'probe range' }).wetUps).toBe(1)
  const swing = Array.from(
    { length: 240 },
    (_, i) => 0.2 + 0.009 * Math.sin((2 * Math.PI * i) / 24),
  )
  expect(learned(swing).wetUps).toBe(0)
})

test('a probe out of the soil, in ice or on another scale teaches nothing of this soil', () => {
  const days = 120
  const moisture = bucket(days)
  const plain = waterLimits(learned(moisture), 'volume', 'loam')
  const out = (i: number): boolean => i % 240 >= 100 && i % 240 < 103
  const pulled = learned(
    moisture.map((value, i) => (out(i) ? 0.005 : value)),
    {},
  )
  expect(pulled.wetUps).toBeLessThanOrEqual(learned(moisture).wetUps)
  expect(waterLimits(pulled, 'volume', 'loam').wilting).toBeCloseTo(plain.wilting, 2)
  // A short look at the probe that the hour's median does not show.
  const glimpse = learned(moisture, { low: (i) => (out(i) ? 0 : moisture[i]!) })
  expect(waterLimits(glimpse, 'volume', 'loam').capacity).toBeCloseTo(plain.capacity, 2)
  const still = Array.from({ length: 480 }, () => 0.25)
  const ice = learned(
    still.map((value, i) => (i % 240 > 50 && i % 240 < 90 ? 0.12 : value)),
    { temperatureC: (i) => (i % 240 > 50 && i % 240 < 90 ? -1 : 4) },
  )
  expect(ice.wetUps).toBe(0)
  expect(waterLimits(ice, 'volume', 'loam').wilting).toBeCloseTo(0.125, 2)
  const changed = learned(
    moisture.slice(0, 48).map((value) => value / 0.5),
    { state: learned(moisture), from: FROM + days * DAY, scale: 'probe range' },
  )
  expect(changed.scale).toBe('probe range')
  expect(changed.drained).toHaveLength(0)
  expect(waterLimits(changed, 'volume', 'loam').basis).toBe('texture')
})

test('a probe put back deeper is not a wetting', () => {
  const series = Array.from({ length: 96 }, (_, i) => (i < 48 ? 0.2 : i < 50 ? 0 : 0.26))
  expect(learned(series).wetUps).toBe(0)
})

test('the lowest seen lowers the wilting point, but never below what soil can be', () => {
  const parched = Array.from({ length: 20 * 24 }, (_, i) => (i < 240 ? 0.28 : 0.1))
  expect(waterLimits(learned(parched), 'volume', 'loam').wilting).toBeCloseTo(0.1, 2)
  const dust = Array.from({ length: 20 * 24 }, (_, i) => (i < 240 ? 0.28 : 0.035))
  expect(waterLimits(learned(dust), 'volume', 'loam').wilting).toBeCloseTo(0.25 * 0.28, 2)
})

test('the share of available water does not depend on the unit of a probe that knows only its own range', () => {
  const moisture = bucket(120)
  const shares = [1, 1.6, 2.1].map((unit) => {
    const state = learned(
      moisture.map((value) => value * unit),
      { scale: 'probe range' },
    )
    return [0.15, 0.22, 0.3].map((value) =>
      availableNow(state, value * unit, 'probe range', 'loam'),
    )
  })
  for (const [i, share] of shares[0]!.entries()) {
    expect(shares[1]![i]).toBeCloseTo(share, 2)
    expect(shares[2]![i]).toBeCloseTo(share, 2)
  }
})

test('a state stored and taken up again between any two hours goes on as if nothing had happened', () => {
  const moisture = bucket(40, { everyDays: 3 })
  const whole = learned(moisture)
  let state = startWater()
  for (let i = 0; i < moisture.length; i += 7) {
    state = structuredClone(learned(moisture.slice(i, i + 7), { state, from: FROM + i * HOUR }))
  }
  expect(state).toEqual(whole)
  // An hour that was taken in already changes nothing.
  expect(learned(moisture.slice(-5), { state, from: FROM + 10 * HOUR })).toEqual(whole)
})

test('five years of hours leave a state no bigger than one season', () => {
  const size = (state: WaterState): number => JSON.stringify(state).length
  const year = size(learned(bucket(365, { everyDays: 3 })))
  expect(size(learned(bucket(5 * 365, { everyDays: 3 })))).toBeLessThan(1.3 * year)
})
