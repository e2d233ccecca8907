import fc from 'fast-check'
import { expect, test } from 'vitest'
import type { DoseEffect } from '#hub/analysis/amendment/dose-effect.ts'
import { DAY } from '#hub/model/clock.ts'
import { MONTH_MS, phMonths } from '#hub/planning/review/ph-months.ts'
import { effectOf } from '../facts.ts'

const AT = Date.UTC(2026, 3, 1)
const WEEK = 7 * DAY

/** An effect whose course goes through these values, week by week from one week before it went on. */
function withCurve(
  value: readonly number[],
  low: readonly number[] = value,
  high: readonly number[] = value,
): DoseEffect {
  return {
    ...effectOf(1, AT, 'ground limestone', { value: 0.5, low: 0.3, high: 0.7 }),
    curve: {
      time: Float64Array.from(value, (_, i) => AT + (i - 1) * WEEK),
      value: Float64Array.from(value),
      low: Float64Array.from(low),
      high: Float64Array.from(high),
    },
  }
}

test('a month is a twelfth of a year of 365.25 days', () => {
  expect(MONTH_MS / DAY).toBeCloseTo(30.4375, 10)
})

test('a rise over two weeks that then stays, worked out by hand', () => {
  // 0 before and at the dose, 0.3 after one week, 0.6 after two and three: trapezoids of
  // 0.15, 0.45 and 0.6 pH weeks, 1.2 in all; 1.2 * 7 / 30.4375 months.
  const effect = withCurve([0, 0, 0.3, 0.6, 0.6])
  const months = phMonths(effect, 1, AT + 3 * WEEK)!
  expect(months.value).toBeCloseTo((1.2 * 7) / 30.4375, 10)
  expect(months.low).toBeCloseTo(months.value, 10)
})

test('what comes after the last point is carried on, for a month at most', () => {
  const effect = withCurve([0, 0, 0.5, 0.5])
  const upTo = (days: number): number => phMonths(effect, 1, AT + 2 * WEEK + days * DAY)!.value
  expect(upTo(7) - upTo(0)).toBeCloseTo((0.5 * 7) / 30.4375, 10)
  expect(upTo(300) - upTo(0)).toBeCloseTo(0.5, 10)
})

test('what is after now does not count', () => {
  const effect = withCurve([0, 0, 0.5, 0.5, 0.5, 0.5])
  expect(phMonths(effect, 1, AT + 2 * WEEK)!.value).toBeCloseTo(((0.25 + 0.5) * 7) / 30.4375, 10)
})

test('sulfur that lowers gains, what goes the wrong way loses, and the ends stay in order', () => {
  const course = [0, 0, -0.2, -0.4]
  const effect = withCurve(
    course,
    course.map((v) => v * 1.5),
    course.map((v) => v * 0.5),
  )
  const right = phMonths(effect, -1, AT + 2 * WEEK)!
  const wrong = phMonths(effect, 1, AT + 2 * WEEK)!
  expect(right.value).toBeGreaterThan(0)
  expect(right.low).toBeCloseTo(0.5 * right.value, 10)
  expect(right.high).toBeCloseTo(1.5 * right.value, 10)
  expect(wrong).toEqual({ value: -right.value, low: -right.high, high: -right.low })
})

test('nothing without a course', () => {
  expect(phMonths({ ...withCurve([0, 0]), curve: null }, 1, AT + WEEK)).toBeNull()
  expect(phMonths(withCurve([0, 0, 0.1]), 1, AT - WEEK)).toBeNull()
})

test('never falls as time goes on while the effect is there, and the value lies within the ends', () => {
  fc.assert(
    fc.property(
      fc.array(fc.double({ min: 0, max: 1.5, noNaN: true }), { minLength: 3, maxLength: 60 }),
      fc.integer({ min: 14, max: 500 }),
      (rise, days) => {
        const course = [0, 0, ...rise]
        const effect = withCurve(
          course,
          course.map((v) => v - 0.2),
          course.map((v) => v + 0.2),
        )
        const sooner = phMonths(effect, 1, AT + days * DAY)!
        const later = phMonths(effect, 1, AT + (days + 7) * DAY)!
        expect(later.value).toBeGreaterThanOrEqual(sooner.value - 1e-9)
        expect(sooner.low).toBeLessThanOrEqual(sooner.value)
        expect(sooner.value).toBeLessThanOrEqual(sooner.high)
      },
    ),
    { numRuns: 60 },
  )
})
