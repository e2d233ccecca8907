import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  amountWriter,
  atMost,
  daysWords,
  daysWriter,
  decimalsFor,
  percent,
  phChangeWriter,
  phWriter,
  signed,
  withDoubt,
} from '../../dashboard/src/doubt.ts'

const ph = phWriter('metric')
const change = phChangeWriter('metric')

describe('a value with its doubt', () => {
  test('an even interval is a half-width, an uneven one its two ends', () => {
    expect(withDoubt({ value: 6.42, low: 6.3, high: 6.54 }, ph)).toBe('6.42 ± 0.12')
    expect(withDoubt({ value: 0.47, low: 0.31, high: 0.66 }, change)).toBe('+0.47 (+0.31 to +0.66)')
    expect(withDoubt({ value: -0.02, low: -0.13, high: 0.09 }, change)).toBe('−0.02 ± 0.11')
  })

  test('an open end is said as one', () => {
    expect(
      withDoubt(
        { value: null, low: 410, high: null },
        daysWriter({ value: null, low: 410, high: null }, 'metric'),
      ),
    ).toBe('at least 410 days')
    expect(withDoubt({ value: null, low: null, high: 0.4 }, ph)).toBe('at most 0.40')
    expect(withDoubt({ value: 0, low: null, high: 2.1 }, ph)).toBe('0.00 (at most 2.10)')
    expect(withDoubt({ value: 3, low: 1, high: null }, ph)).toBe('3.00 (at least 1.00)')
    expect(withDoubt({ value: null, low: 1, high: 2 }, ph)).toBe('between 1.00 and 2.00')
  })

  test('a doubt that rounds to nothing is not said to be none', () => {
    expect(withDoubt({ value: 6.4, low: 6.398, high: 6.402 }, ph)).toBe('about 6.40')
    expect(withDoubt({ value: 6.4, low: 6.4, high: 6.4 }, ph)).toBe('6.40')
  })

  test('nothing known is said so, and a value alone never passes for a sure one', () => {
    expect(withDoubt(null, ph)).toBe('not known')
    expect(withDoubt({ value: null, low: null, high: null }, ph)).toBe('not known')
    expect(withDoubt({ value: 6.4, low: null, high: null }, ph)).toBe('6.40, doubt not known')
  })

  test('every known number of an interval is told, whichever ends are open', () => {
    const maybe = fc.option(fc.double({ min: 0.01, max: 99, noNaN: true }), { nil: null })
    fc.assert(
      fc.property(maybe, maybe, maybe, (value, low, high) => {
        const said = withDoubt({ value, low, high }, ph)
        if (value !== null) expect(said).toContain(ph.value(value))
        if (!said.includes('±') && !said.startsWith('about') && low !== high) {
          if (low !== null) expect(said).toContain(ph.value(low))
          if (high !== null) expect(said).toContain(ph.value(high))
        }
        expect(said).not.toMatch(/NaN|null|undefined/)
      }),
    )
  })
})

describe('amounts', () => {
  test('decimals follow the doubt', () => {
    expect(decimalsFor(14)).toBe(0)
    expect(decimalsFor(1.4)).toBe(1)
    expect(decimalsFor(0.04)).toBe(2)
    const litres = { value: 51.3, low: 36.9, high: 65.7 }
    expect(withDoubt(litres, amountWriter(litres, 'L', 'metric'))).toBe('51 ± 14 L')
    const few = { value: 2.4, low: 1.3, high: 4.1 }
    expect(withDoubt(few, amountWriter(few, 'days', 'metric'))).toBe('2.4 days (1.3 to 4.1)')
  })

  test('the scale turns millimetres into inches', () => {
    const mm = { value: 25.4, low: 20.32, high: 30.48 }
    expect(withDoubt(mm, amountWriter(mm, 'in', 'us', 1 / 25.4))).toBe('1.0 ± 0.2 in')
  })

  test('long times are years, others whole days', () => {
    const long = { value: 1461, low: 1096, high: 1826 }
    expect(withDoubt(long, daysWriter(long, 'metric'))).toBe('4.0 ± 1.0 years')
    expect(daysWords(1, 'metric')).toBe('1 day')
    expect(daysWords(98.4, 'metric')).toBe('98 days')
    expect(daysWords(1461, 'metric')).toBe('4.0 years')
  })
})

test('a change shows its sign, and none at all has none', () => {
  expect(signed(0.5, 2, 'metric')).toBe('+0.50')
  expect(signed(-0.5, 2, 'metric')).toBe('−0.50')
  expect(signed(0.001, 2, 'metric')).toBe('0.00')
  expect(signed(-0.001, 2, 'metric')).toBe('0.00')
  expect(signed(null, 2, 'metric')).toBe('–')
})

test('rounding never makes a certainty', () => {
  expect(percent(0.004, 'metric')).toBe('under 1\u00a0%')
  expect(percent(0.996, 'metric')).toBe('over 99\u00a0%')
  expect(percent(0, 'metric')).toBe('0\u00a0%')
  expect(percent(1, 'metric')).toBe('100\u00a0%')
  expect(percent(0.415, 'metric')).toBe('42\u00a0%')
  expect(percent(null, 'metric')).toBe('–')
})

test('what may have been missed is rounded up', () => {
  expect(atMost(0.381, 'metric')).toBe('0.39')
  expect(atMost(0.38, 'metric')).toBe('0.38')
})
