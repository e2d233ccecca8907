import { expect, test } from 'vitest'
import { MANNERS } from '#hub/model/manner.ts'
import {
  aboutDepth,
  areaText,
  degreesApart,
  densityMass,
  depthText,
  groundMass,
  groundRange,
  layerText,
  massRange,
  massText,
  onGround,
  portionText,
  temperatureText,
  volumeText,
} from '#hub/words/amount.ts'
import { inManner } from '#hub/words/say.ts'
import { seededRandom } from '../../support/random.ts'

const inUs = <T>(work: () => T): T => inManner({ language: 'en', units: 'us' }, work)
const both = <T>(work: () => T): [T, T] => [work(), inUs(work)]

// NIST Handbook 44, appendix C: 1 lb = 453.59237 g = 16 oz, 1 in = 2.54 cm, 1 ft = 12 in, 1 gal = 3.785411784 L.
test.each([
  [() => massText(5), '5 g', '0.18 oz'],
  [() => massText(145), '145 g', '5.1 oz'],
  [() => massText(453.59237), '454 g', '16 oz'],
  [() => massText(907.18474), '907 g', '2 lb'],
  [() => massText(1250), '1.25 kg', '2.76 lb'],
  [() => massText(45_359.237), '45.36 kg', '100 lb'],
  [() => massRange({ low: 290, high: 520 }), '290 to 520 g', '10.2 to 18.3 oz'],
  [() => depthText(0.254), '25 cm', '10 in'],
  [() => depthText(0.3), '30 cm', '11.8 in'],
  [() => aboutDepth(0.15), '15 cm', '6 in'],
  [() => areaText(9.290304), '9.29 m²', '100 sq ft'],
  [() => volumeText(37.85411784), '38 L', '10 gal'],
  [() => volumeText(8.5), '8.5 L', '2.2 gal'],
  [() => layerText(25.4), '25 mm', '1 in'],
  [() => layerText(7.2), '7.2 mm', '0.28 in'],
  [() => temperatureText(10), '10 °C', '50 °F'],
  [() => temperatureText(-0.54, 1), '-0.5 °C', '31 °F'],
  [() => degreesApart(5), '5', '9'],
  // 10 lb on 100 square feet are 488 g on a square metre.
  [
    () => `${groundMass(488.2428)} ${onGround()}`,
    '488 g a square metre',
    '10 lb on 100 square feet',
  ],
  [() => groundRange({ low: 100, high: 200 }), '100 to 200 g', '2.05 to 4.1 lb'],
  [() => groundMass(2), '2 g', '0.041 lb'],
  // A quart of water weighs 33.38 oz.
  [() => densityMass(1000), '1000 kg', '33.4 oz'],
])('%o: %s, in US units %s', (work, metric, us) => {
  expect(both(work)).toEqual([metric, us])
})

test('a decimal comma where the language has one', () => {
  expect(inManner({ language: 'de', units: 'us' }, () => massText(1250))).toBe('2,76 lb')
  expect(inManner({ language: 'es', units: 'metric' }, () => massText(1250))).toBe('1,25 kg')
})

test('portions as the pages tell them', () => {
  const told = [5, 12_350, 145, 150, 1350].map((grams) => both(() => portionText(grams)))
  expect(told).toEqual([
    ['5 g', '0.17 oz'],
    ['12.35 kg', '27.22 lb'],
    ['145 g', '5.1 oz'],
    ['150 g', '5.2 oz'],
    ['1.35 kg', '2.97 lb'],
  ])
})

test('a portion is never told as more than it is, and hardly less', () => {
  const next = seededRandom(20_270_408)
  for (const manner of MANNERS) {
    for (let i = 0; i < 400; i++) {
      const grams = 5 * 10 ** (4 * next())
      const text = inManner(manner, () => portionText(grams))
      const [digits, unit] = text.split(' ') as [string, 'g' | 'kg' | 'oz' | 'lb']
      const size = { g: 1, kg: 1000, oz: 28.349523125, lb: 453.59237 }[unit]
      const told = Number(digits.replace(',', '.')) * size
      expect(told, `${grams} g: ${text}`).toBeLessThanOrEqual(grams * (1 + 1e-6))
      expect(told, `${grams} g: ${text}`).toBeGreaterThan(grams * 0.8)
    }
  }
})
