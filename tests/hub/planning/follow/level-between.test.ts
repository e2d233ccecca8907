import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import type { DailySeries } from '#hub/analysis/aggregate/daily-series.ts'
import { DAY } from '#hub/model/clock.ts'
import { levelBetween } from '#hub/planning/follow/level-between.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import { noise } from '../../../score/series.ts'

const seriesOf = (value: ArrayLike<number>, se = 0.08): DailySeries => ({
  day: Float64Array.from({ length: value.length }, (_, i) => i * DAY),
  value: Float64Array.from(value),
  se: new Float64Array(value.length).fill(se),
})

describe('the level of some days', () => {
  test('is their median, of the newest ones where only so many are asked for', () => {
    const series = seriesOf([6, 6.1, 6.2, 6.3, 6.4, 6.5, 6.6])
    expect(levelBetween(series, 0, 7 * DAY, { least: 3 })).toMatchObject({
      value: 6.3,
      days: 7,
      at: 3 * DAY,
    })
    expect(levelBetween(series, 0, 7 * DAY, { least: 3, most: 3 })).toMatchObject({
      value: 6.5,
      days: 3,
    })
    expect(levelBetween(series, DAY, 4 * DAY, { least: 3 })!.value).toBeCloseTo(6.2, 10)
  })

  test('needs enough days, and leaves out what is no value', () => {
    const series = seriesOf([6, NaN, 6.2, NaN, 6.4])
    expect(levelBetween(series, 0, 5 * DAY, { least: 4 })).toBeNull()
    expect(levelBetween(series, 0, 5 * DAY, { least: 3 })).toMatchObject({ value: 6.2, days: 3 })
    expect(levelBetween(series, 10 * DAY, 20 * DAY, { least: 0 })).toBeNull()
  })

  test('never knows a level better than what all days have in common', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 4, max: 9, noNaN: true }), { minLength: 1, maxLength: 60 }),
        (values) => {
          const level = levelBetween(seriesOf(values), 0, 60 * DAY, { least: 1 })!
          expect(level.se).toBeGreaterThan(0)
          expect(level.wholeSe).toBeGreaterThanOrEqual(Math.hypot(0.0799, level.se))
        },
      ),
    )
  })
})

test('its interval holds the truth although each day is much like the one before', () => {
  // Days that wander with a standard deviation of 0.06 and forget two thirds within ten days.
  for (const days of [14, 30]) {
    let held = 0
    const runs = 600
    for (let run = 0; run < runs; run++) {
      const values = noise(seededRandom(4000 + run), days, 0.06, Math.exp(-1 / 10))
      const { value, se } = levelBetween(seriesOf(values), 0, days * DAY, { least: 7 })!
      if (Math.abs(value) <= 1.96 * se) held++
    }
    expect(held / runs).toBeGreaterThan(0.86)
    expect(held / runs).toBeLessThan(0.99)
  }
})
