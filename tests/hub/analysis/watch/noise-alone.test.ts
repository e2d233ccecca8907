import { expect, test } from 'vitest'
import { expectedFalse } from '#hub/analysis/watch/expected-false.ts'
import { madeBed, watched } from './watched-bed.ts'

/**
 * Alarms of one lone spot in moist soil that is nothing but first-order Gaussian noise. The rates to compare with
 * were simulated apart from this code with the fixed chart (reference 0.30, limit 1.5): 0 at sd 0.08, 0.07 a year at
 * sd 0.12 and 0.9 kept. Where a spot is noisier the chart here is wider, so that the rate stays.
 */
function alarms(sd: number, keep: number, runs: number): number {
  let count = 0
  for (let seed = 1; seed <= runs; seed++) {
    count += watched(madeBed({ seed, days: 365, spots: 1, sd, keep })).events.length
  }
  return count
}

test('noise of 0.08 pH raises nothing in twelve years', () => {
  expect(alarms(0.08, 0.9, 12)).toBe(0)
}, 60_000)

test('noise of 0.12 pH raises hardly anything', () => {
  // 0.07 a year expected: more than 4 in 12 years has a chance below one in a hundred.
  expect(alarms(0.12, 0.9, 12)).toBeLessThanOrEqual(4)
}, 60_000)

test('noise of 0.20 pH would raise fifteen a year with the fixed chart; the wider one stays quiet', () => {
  expect(alarms(0.2, 0.9, 4)).toBeLessThanOrEqual(4)
}, 60_000)

test('the rate to expect follows the spot own noise and its correlation', () => {
  expect(expectedFalse(0.08, 0.9)).toBe(0)
  expect(expectedFalse(0.12, 0.9)).toBeCloseTo(0.07)
  expect(expectedFalse(0.12, 0.95)).toBeCloseTo(0.33)
  expect(expectedFalse(0.1, 0.95)).toBeCloseTo(0.165)
  expect(expectedFalse(0.12, 0.925)).toBeCloseTo(0.2)
  // The chart widens from 0.12 on.
  expect(expectedFalse(0.2, 0.9)).toBeCloseTo(0.07)
  expect(expectedFalse(NaN, 0.9)).toBeNaN()
})

test('noise and correlation of a spot are learned', () => {
  const { state } = watched(madeBed({ seed: 3, days: 60, spots: 2, sd: 0.1, keep: 0.9 }))
  for (const { sd, phi } of state.spots) {
    expect(sd).toBeGreaterThan(0.07)
    expect(sd).toBeLessThan(0.14)
    expect(phi).toBeGreaterThan(0.75)
    expect(phi).toBeLessThan(0.97)
  }
})
