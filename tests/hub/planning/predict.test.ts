import fc from 'fast-check'
import { expect, test } from 'vitest'
import { DOSINGS, dosingOf } from '#hub/agronomy/dosing.ts'
import { predictedShare } from '#hub/planning/predict.ts'

const limestone = dosingOf('ground-limestone')!

test.each(DOSINGS)(
  '$slug: nothing before it went on, all of it in between, gone after decades',
  (dosing) => {
    expect(predictedShare(dosing, -1)).toEqual({ low: 0, typical: 0, high: 0 })
    expect(predictedShare(dosing, 0)).toEqual({ low: 0, typical: 0, high: 0 })
    expect(predictedShare(dosing, dosing.peak.typical).typical).toBeGreaterThan(0.75)
    expect(predictedShare(dosing, 40 * 365).high).toBeLessThan(0.1)
  },
)

test('ground limestone at the day its effect was highest in field plots is nearly all there', () => {
  // Pagani and Mallarino, Soil Sci. Soc. Am. J. 76:1877 (2012): highest after 136 days.
  const { low, typical, high } = predictedShare(limestone, 136)
  expect(typical).toBeGreaterThan(0.85)
  expect(high).toBeGreaterThan(0.95)
  expect(low).toBeLessThan(typical)
})

test('half is gone a half-life after the highest point', () => {
  const at = predictedShare(limestone, limestone.peak.typical).typical
  const later = predictedShare(
    limestone,
    limestone.peak.typical + limestone.halfLife.typical,
  ).typical
  expect(later / at).toBeGreaterThan(0.5)
  expect(later / at).toBeLessThan(0.5 / at + 1e-9)
})

test('on every day least, likely and most are in order and shares of a whole', () => {
  fc.assert(
    fc.property(
      fc.constantFrom(...DOSINGS),
      fc.double({ min: 0, max: 8000, noNaN: true }),
      (dosing, days) => {
        const { low, typical, high } = predictedShare(dosing, days)
        expect(low).toBeGreaterThanOrEqual(0)
        expect(low).toBeLessThanOrEqual(typical)
        expect(typical).toBeLessThanOrEqual(high)
        expect(high).toBeLessThanOrEqual(1)
      },
    ),
  )
})
