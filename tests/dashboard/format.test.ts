import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  age,
  amount,
  dateTime,
  num,
  span,
  standingWords,
  toShown,
  toStored,
} from '../../dashboard/src/format.ts'
import { amountField, parseNumber } from '../../dashboard/src/number-field.ts'
import type { Amount } from '../../dashboard/src/format.ts'

const AMOUNTS: readonly Amount[] = ['mass', 'volume', 'depth', 'area', 'temperature', 'layer']
const MINUTE = 60_000
const HOUR = 60 * MINUTE
const DAY = 24 * HOUR

describe('units', () => {
  // NIST Handbook 44 appendix C (values from memory): 1 lb = 453.59237 g, 1 gal = 3.785411784 L,
  // 1 in = 2.54 cm, 1 sq ft = 0.09290304 m2; temperatures: freezing and boiling of water, and -40.
  test.each([
    ['mass', 453.59237, 16],
    ['volume', 3.785411784, 1],
    ['depth', 0.3048, 12],
    ['area', 0.83612736, 9],
    ['layer', 25.4, 1],
    ['temperature', 0, 32],
    ['temperature', 100, 212],
    ['temperature', -40, -40],
  ] as const)('%s %d is %d in US units', (kind, stored, shown) => {
    expect(toShown(kind, stored, 'us')).toBeCloseTo(shown, 9)
    expect(toStored(kind, shown, 'us')).toBeCloseTo(stored, 9)
  })

  test('there and back again changes nothing', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...AMOUNTS),
        fc.constantFrom('metric' as const, 'us' as const),
        fc.double({ min: -50, max: 1e7, noNaN: true }),
        (kind, units, stored) => {
          const back = toStored(kind, toShown(kind, stored, units), units)
          expect(Math.abs(back - stored)).toBeLessThanOrEqual(1e-9 * Math.max(1, Math.abs(stored)))
        },
      ),
    )
  })

  test('what a field shows reads back to nine digits', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...AMOUNTS),
        fc.constantFrom('metric' as const, 'us' as const),
        fc.double({ min: 0.001, max: 1e7, noNaN: true }),
        (kind, units, stored) => {
          const typed = parseNumber(amountField(kind, stored, units))
          // Very small numbers are written with an exponent, which nobody types; none occurs in a garden.
          fc.pre(typed !== null)
          const shown = toShown(kind, stored, units)
          expect(Math.abs((typed ?? NaN) - shown)).toBeLessThanOrEqual(1e-8 * Math.abs(shown))
        },
      ),
    )
  })

  test('amounts carry their unit and no false digits', () => {
    expect(amount('mass', 900, 'metric')).toBe('900 g')
    expect(amount('mass', 900, 'us')).toBe('31.7 oz')
    expect(amount('depth', 0.3, 'metric')).toBe('30 cm')
    expect(amount('temperature', -3.25, 'metric')).toMatch(/^−3\.[23] °C$/)
    expect(amountField('volume', null, 'us')).toBe('')
  })
})

describe('numbers', () => {
  test('what is missing is a dash, zero is a number', () => {
    expect(num(null, 2, 'metric')).toBe('–')
    expect(num(NaN, 2, 'metric')).toBe('–')
    expect(num(0, 2, 'metric')).toBe('0.00')
    expect(num(-0.001, 2, 'metric')).toBe('0.00')
    expect(num(-1.5, 1, 'metric')).toBe('−1.5')
  })

  test.each([
    ['6,5', 6.5],
    [' 12.25 ', 12.25],
    ['-3', -3],
    ['−3', -3],
    ['.5', 0.5],
    ['7.', 7],
  ])('%j is a number', (text, value) => {
    expect(parseNumber(text)).toBe(value)
  })
  test.each(['', ' ', 'abc', '6.5.1', '1e5', '6 5', 'NaN', 'Infinity', '0x10', '-'])(
    '%j is not a number',
    (text) => {
      expect(parseNumber(text)).toBeNull()
    },
  )
})

describe('words', () => {
  test.each([
    [1000, 'just now'],
    [42_000, '42 s ago'],
    [3 * MINUTE, '3 min ago'],
    [5 * HOUR, '5 h ago'],
    [40 * HOUR, '2 days ago'],
    [90 * DAY, '3 months ago'],
    [-HOUR, 'just now'],
  ])('%d ms back is %s', (back, words) => {
    expect(age(1e12 - back, 1e12)).toBe(words)
  })

  test('intervals', () => {
    expect([span(60), span(900), span(86_400)]).toEqual(['60 s', '15 min', '24 h'])
  })

  test('time is that of the garden, not of the reader', () => {
    // 2026-07-01T22:30Z is already the second of July in Lisbon's neighbour Madrid, half past midnight.
    const at = Date.UTC(2026, 6, 1, 22, 30)
    expect(dateTime(at, { zone: 'Europe/Madrid', units: 'metric' })).toBe('2 Jul 2026, 00:30')
    expect(dateTime(at, { zone: 'America/Denver', units: 'us' })).toMatch(
      /^Jul 1, 2026, 0?4:30\sPM$/,
    )
  })

  test('an unknown standing says whether a band is missing', () => {
    const band = { status: 'none', band: null, sentence: '' } as const
    expect(standingWords({ standing: 'unknown', band })).toBe('no band to hold it against')
    const crops = { status: 'crops' as const, band: { low: 6, high: 7 }, sentence: '' }
    expect(standingWords({ standing: 'unknown', band: crops })).toBe('not known yet')
  })
})
