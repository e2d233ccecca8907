import { expect, test } from 'vitest'
import { dryDownOf } from '#hub/analysis/moisture/dry-down.ts'
import { dryingRate } from '#hub/analysis/moisture/drying-rate.ts'
import { startWater } from '#hub/analysis/moisture/start-water.ts'
import { stepWater } from '#hub/analysis/moisture/step-water.ts'
import { waterStanding } from '#hub/analysis/moisture/water-standing.ts'
import type { WaterState } from '#hub/analysis/moisture/water-state.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { bed, NOW } from '../case.ts'

function drying(days: number[], perDayBefore: number[] = []): WaterState {
  const dryDowns = perDayBefore.map((perDay) => ({ from: 0, to: 1, perDay, perDaySe: 0.001 }))
  return { ...startWater(), drying: { from: NOW, days }, dryDowns }
}

test('the rate of drying is the slope of one reading a day, its doubt that of the line', () => {
  expect(dryDownOf(startWater(), NOW)).toBeNull()
  expect(dryDownOf(drying([0.3]), NOW)).toBeNull()
  // By hand: slope -0.09 / 5, residuals 0.003, -0.009, 0.009, -0.003, so the variance is 0.00018 / 2 / 5.
  const four = dryDownOf(drying([0.3, 0.27, 0.27, 0.24]), NOW + DAY)
  expect(four).toMatchObject({ from: NOW, to: NOW + DAY })
  expect(four?.perDay).toBeCloseTo(0.018, 12)
  expect(four?.perDaySe).toBeCloseTo(Math.sqrt(0.000018), 9)
  // A perfect line is not believed further than a reading: 1 % of 0.28 over a spread of 2 days squared.
  const perfect = dryDownOf(drying([0.3, 0.28, 0.26]), NOW)
  expect(perfect?.perDay).toBeCloseTo(0.02, 12)
  expect(perfect?.perDaySe).toBeCloseTo(0.0028 / Math.sqrt(2), 9)
  const two = dryDownOf(drying([0.3, NaN, 0.26]), NOW)
  expect(two?.perDay).toBeCloseTo(0.02, 12)
  expect(two?.perDaySe).toBeCloseTo(0.0028 / Math.sqrt(2), 9)
})

test('without a present dry-down the usual one stands in, with more doubt', () => {
  expect(dryingRate(startWater(), NOW)).toBeNull()
  const before = dryingRate(drying([0.3], [0.02, 0.03, 0.025, -0.01, 0]), NOW)
  expect(before).toMatchObject({ perDay: 0.025, from: 'before' })
  expect(before?.se).toBeCloseTo(0.3 * 0.025, 9)
  const apart = dryingRate(drying([], [0.01, 0.02, 0.03]), NOW)
  expect(apart?.se).toBeCloseTo(1.4826 * 0.01, 9)
  expect(dryingRate(drying([0.3, 0.28], [0.05]), NOW)).toMatchObject({ from: 'now' })
  expect(dryingRate(drying([0.28, 0.28], [0.05]), NOW), 'a soil that does not dry now').toBeNull()
})

/** An hour of moisture each, from NOW on. */
function fold(moistures: readonly number[], low?: (i: number) => number): WaterState {
  const state = startWater()
  for (const [i, moisture] of moistures.entries()) {
    stepWater(
      state,
      {
        hour: NOW + i * HOUR,
        moisture,
        moistureLow: low?.(i) ?? moisture,
        moistureScale: 'volume',
        temperatureC: 15,
      },
      'loam',
    )
  }
  return state
}

/** Wetted to 0.34 at noon of every eighth day, then 0.01 less each day, 0.03 more lost by draining in the first. */
const cycles = (days: number): number[] =>
  Array.from({ length: days * 24 }, (_, i) => {
    const since = (i + 1) % (8 * 24)
    return 0.34 - (0.01 * since) / 24 - 0.03 * Math.min(1, since / 12)
  })

test('dry-downs begin a day after the wetting, end with the next, and the newest ten are kept', () => {
  const state = fold(cycles(100))
  expect(state.wettings.length).toBeGreaterThanOrEqual(11)
  expect(state.dryDowns).toHaveLength(10)
  for (const [i, { from, to, perDay }] of state.dryDowns.entries()) {
    expect(perDay, 'draining left out').toBeCloseTo(0.01, 3)
    expect(to - from).toBeGreaterThan(6 * DAY)
    expect(to - from).toBeLessThanOrEqual(7 * DAY)
    if (i > 0) expect(from - state.dryDowns[i - 1]!.from).toBe(8 * DAY)
  }
  expect(dryDownOf(state, NOW)?.perDay).toBeCloseTo(0.01, 3)
})

test('a probe that was pulled, frozen or silent for a day begins a new dry-down', () => {
  const moistures = Array.from({ length: 240 }, (_, i) => (i < 120 ? 0.3 : 0.26) - (0.01 * i) / 24)
  const pulled = fold(moistures, (i) => (i === 120 ? 0 : moistures[i]!))
  expect(pulled.dryDowns).toHaveLength(1)
  expect(pulled.dryDowns[0]?.perDay).toBeCloseTo(0.01, 6)
  expect(dryDownOf(pulled, NOW)?.perDay, 'not the 0.04 it was put back drier').toBeCloseTo(0.01, 6)
  const whole = fold(moistures)
  expect(dryDownOf(whole, NOW)?.perDay, 'unless it was never pulled').toBeGreaterThan(0.013)
})

test('a bed that is watered too often for a dry-down of its own is told by earlier ones', () => {
  const state = fold([...cycles(32), ...Array.from({ length: 30 }, (_, i) => 0.34 - 0.001 * i)])
  const moisture = 0.31
  const at = state.hour + HOUR
  const spot = {
    spotId: 1,
    spot: 'north',
    probe: 'probe1',
    state,
    moisture,
    scale: 'volume' as const,
    at: state.hour,
  }
  const now = waterStanding(bed(), [spot], at)
  expect(now.rateFrom).toBe('before')
  expect(now.daysUntilDry!.high / now.daysUntilDry!.value).toBeGreaterThan(1.5)
})
