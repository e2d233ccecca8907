import { expect, test } from 'vitest'
import {
  halfAfterPeak,
  peakDay,
  responseAt,
  type ResponseShape,
} from '#hub/analysis/amendment/response-shape.ts'

const SHAPES: readonly ResponseShape[] = [
  { lagDays: 0, riseHalfDays: 10, returnHalfDays: 100 },
  { lagDays: 14, riseHalfDays: 40, returnHalfDays: 60 },
  { lagDays: 7, riseHalfDays: 3, returnHalfDays: 3000 },
  { lagDays: 90, riseHalfDays: 200, returnHalfDays: 1000 },
]

test.each(SHAPES)(
  'peak of $riseHalfDays and $returnHalfDays days is where the slope is nil',
  (s) => {
    // Closed form of the Bateman curve: ln(kr / kd) / (kr - kd) after the lag.
    const kr = Math.LN2 / s.riseHalfDays
    const kd = Math.LN2 / s.returnHalfDays
    expect(peakDay(s)).toBeCloseTo(s.lagDays + Math.log(kr / kd) / (kr - kd), 9)
    expect(responseAt(s, peakDay(s))).toBeCloseTo(1, 12)
    for (const aside of [-1, 1]) expect(responseAt(s, peakDay(s) + aside)).toBeLessThan(1)
  },
)

test.each(SHAPES)('half is gone that many days after ($riseHalfDays, $returnHalfDays)', (s) => {
  expect(responseAt(s, peakDay(s) + halfAfterPeak(s))).toBeCloseTo(0.5, 9)
  expect(halfAfterPeak(s)).toBeGreaterThan(s.returnHalfDays)
})

test('a rise twice as fast as the return has a closed form: (1 + sqrt(1/2)) of the way in halves', () => {
  // With kr = 2 kd and v = e^(-kd t): v - v^2, highest 1/4 at v = 1/2, half of it where v^2 - v + 1/8 = 0.
  const shape = { lagDays: 5, riseHalfDays: 50, returnHalfDays: 100 }
  expect(peakDay(shape)).toBeCloseTo(105, 9)
  const v = (1 - Math.sqrt(0.5)) / 2
  expect(halfAfterPeak(shape)).toBeCloseTo(-100 * Math.log2(v) - 100, 9)
})

test('what does not come back rises for ever towards one', () => {
  const shape = { lagDays: 10, riseHalfDays: 20, returnHalfDays: Infinity }
  expect(responseAt(shape, 10)).toBe(0)
  expect(responseAt(shape, 30)).toBeCloseTo(0.5, 12)
  expect(peakDay(shape)).toBe(Infinity)
  expect(halfAfterPeak(shape)).toBe(Infinity)
})

test('nothing happens before the lag is over', () => {
  expect(responseAt(SHAPES[1]!, -100)).toBe(0)
  expect(responseAt(SHAPES[1]!, 14)).toBe(0)
  expect(responseAt(SHAPES[1]!, 15)).toBeGreaterThan(0)
})
