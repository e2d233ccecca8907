import { expect, test } from 'vitest'
import { learnSeen } from '#hub/analysis/moisture/learn-seen.ts'
import { startWater } from '#hub/analysis/moisture/start-water.ts'
import type { WaterState } from '#hub/analysis/moisture/water-state.ts'

function seen(hours: number, moisture: (hour: number) => number, state = startWater()): WaterState {
  for (let hour = 0; hour < hours; hour++) learnSeen(state, moisture(hour))
  return state
}

const total = ({ seen: counts }: WaterState): number => counts.reduce((sum, n) => sum + n, 0)

test('percentiles of what was seen, to within a class, from two days and two weeks on', () => {
  expect(seen(47, () => 0.3).seenHigh).toBeNaN()
  const two = seen(48, () => 0.3)
  expect(two.seenHigh).toBeGreaterThanOrEqual(0.3)
  expect(two.seenHigh).toBeLessThanOrEqual(0.305)
  expect(two.seenLow).toBeNaN()
  // Evenly from 0.1 to 0.3: 95 % lie below 0.29, 1 % below 0.102.
  const even = seen(2400, (hour) => 0.1 + (0.2 * ((hour * 7) % 2400)) / 2400)
  expect(even.seenHigh).toBeCloseTo(0.29, 3)
  expect(even.seenLow).toBeCloseTo(0.102, 3)
  expect(seen(335, (hour) => 0.1 + 0.0005 * hour).seenLow).toBeNaN()
  expect(seen(336, (hour) => 0.1 + 0.0005 * hour).seenLow).toBeCloseTo(0.1017, 2)
})

test('percentiles are drawn once a day', () => {
  const state = seen(48, () => 0.2)
  seen(23, () => 0.4, state)
  expect(state.seenHigh).toBeLessThan(0.21)
  seen(1, () => 0.4, state)
  expect(state.seenHigh).toBeGreaterThan(0.4)
})

test('both ends of the scale are counted', () => {
  const state = seen(400, (hour) => (hour % 2 === 0 ? 0 : 1))
  expect(total(state)).toBe(400)
  expect(state.seenHigh).toBeGreaterThanOrEqual(1)
  expect(state.seenLow).toBeLessThan(0.005)
})

test('old seasons fade by half a year, and the count stays what was counted', () => {
  const YEAR = 365 * 24
  const state = seen(YEAR - 1, () => 0.4)
  expect(state.seenHours).toBe(YEAR - 1)
  seen(1, () => 0.4, state)
  expect(state.seenHours).toBe(YEAR / 2)
  expect(total(state)).toBe(YEAR / 2)
  // Of the next ten years nothing is left of the first: 0.4 has gone from 95 % and from 1 %.
  seen(10 * YEAR, (hour) => (hour % 3 === 0 ? 0.2 : 0.25), state)
  expect(state.seenHigh).toBeLessThan(0.256)
  expect(total(state)).toBe(state.seenHours)
  expect(state.seenHours).toBeLessThan(YEAR)
})
