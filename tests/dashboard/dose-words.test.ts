import { describe, expect, test } from 'vitest'
import { changeRange, spreadRange, spreadText } from '../../dashboard/src/parts/plan/dose-words.ts'
import { LIME_UNITS, toGM2 } from '../../dashboard/src/parts/plan/lime-units.ts'
import { portionText, weightRange, weightText } from '../../dashboard/src/weight-words.ts'

const plain = (text: string): string => text.replaceAll('\u00a0', ' ')

describe('amounts as one weighs them out', () => {
  test.each([
    [4.26, 'metric', '4.3 g'],
    [376.4, 'metric', '376 g'],
    [999, 'metric', '999 g'],
    [1690, 'metric', '1.69 kg'],
    [19_480, 'metric', '19.5 kg'],
    [28.349523125, 'us', '1 oz'],
    // An avoirdupois pound is 453.59237 g: NIST Handbook 44, appendix C.
    [1360.77711, 'us', '3 lb'],
    [1350, 'us', '2.98 lb'],
  ] as const)('%d g in %s units', (grams, units, words) => {
    expect(plain(weightText(grams, units))).toBe(words)
  })
  // As the sentences of the hub tell them: tests/hub/words/amount.test.ts.
  test.each([
    [5, 'metric', '5 g'],
    [12_350, 'metric', '12.35 kg'],
    [5, 'us', '0.17 oz'],
    [145, 'us', '5.1 oz'],
    [150, 'us', '5.2 oz'],
    [1350, 'us', '2.97 lb'],
  ] as const)('a portion of %d g in %s units is never told as more', (grams, units, words) => {
    expect(plain(portionText(grams, units))).toBe(words)
  })
  test('a range has one unit, that of its larger end', () => {
    const range = { low: 620, typical: 1000, high: 1900 }
    expect(plain(weightRange(range, 'metric'))).toBe('0.62 to 1.9 kg')
    expect(plain(spreadRange({ low: 289, typical: 376, high: 4329 }, 'metric'))).toBe(
      '289 to 4,330 g/m²',
    )
  })
  test('on the ground', () => {
    expect(plain(spreadText(120, 'metric'))).toBe('120 g/m²')
    expect(plain(spreadText(3.2, 'metric'))).toBe('3.2 g/m²')
    expect(plain(spreadText(488.243, 'us'))).toBe('10 lb/100 sq ft')
  })
  test('changes show their sign at both ends', () => {
    expect(changeRange({ low: 0.23, typical: 0.4, high: 0.6 }, 'metric')).toBe('+0.23 to +0.60')
    expect(changeRange({ low: -0.3, typical: -0.4, high: -0.54 }, 'metric')).toBe('−0.30 to −0.54')
  })
})

test('what laboratories write comes to the same g/m2', () => {
  // 10 lb/100 sq ft is 488.243 g/m2; an acre is 43 560 sq ft: NIST Handbook 44, appendices B and C.
  expect(toGM2(10, 'lb/100 sq ft')).toBeCloseTo(488.243, 3)
  expect(toGM2(100, 'lb/1000 sq ft')).toBeCloseTo(488.243, 3)
  expect(toGM2(4356, 'lb/acre')).toBeCloseTo(488.243, 3)
  expect(toGM2(4.88243, 't/ha')).toBeCloseTo(488.243, 3)
  expect(toGM2(48.8243, 'kg/100 m2')).toBeCloseTo(488.243, 3)
  for (const { unit } of LIME_UNITS) expect(toGM2(1, unit)).toBeGreaterThan(0)
})
