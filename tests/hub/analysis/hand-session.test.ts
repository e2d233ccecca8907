import { expect, test } from 'vitest'
import { HAND_PROTOCOLS, HAND_SPOTS, WATER_LESS_CACL2 } from '#hub/agronomy/hand-measuring.ts'
import { sourceById } from '#hub/agronomy/sources.ts'
import { handResult, spotsFor } from '#hub/analysis/measure/hand-session.ts'

const USUAL = { wanted: 0.2, usualSd: HAND_SPOTS.usualSd }

/** n = (t s / E)^2 of EPA-600/4-83-020 (recalled), iterated by hand: n = 11 needs 11.17, n = 12 needs 10.90. */
test('spots for 0.2 pH at a standard deviation of 0.3: twelve', () => {
  expect(spotsFor(0.3, 0.2)).toBe(12)
  expect(spotsFor(0.05, 0.2)).toBe(3)
})

/** R. H. Giles, Virginia Tech, "Statistical analysis of pH values": 5.2, 5.4, 5.9 give 5.5, by hydrogen ions 5.41. */
test('the mean of pH values is the arithmetic one (Conyers 2026)', () => {
  const result = handResult([5.2, 5.4, 5.9], USUAL)
  expect(result.mean).toBeCloseTo(5.5, 9)
  const ions = [5.2, 5.4, 5.9].map((ph) => 10 ** -ph)
  expect(-Math.log10(ions.reduce((a, b) => a + b) / 3)).toBeCloseTo(5.41, 2)
})

/** By hand: sd = sqrt((0.09 + 0.01 + 0.16) / 2) = 0.3606, over sqrt 3 = 0.2082; t(0.975, 2) = 4.3027 (any t table). */
test('standard error and interval', () => {
  const result = handResult([5.2, 5.4, 5.9], USUAL)
  expect(result.sd).toBeCloseTo(0.36056, 5)
  expect(result.standardError).toBeCloseTo(0.20817, 5)
  expect(result.halfWidth).toBeCloseTo(4.30265 * 0.20817, 3)
  expect(result.more).toBe(result.needed - 3)
  expect(result.sentence).toMatch(/^pH 5\.50 from 3 spots, standard error 0\.21/)
})

test('one value: its doubt is not known, the usual spread says how many more', () => {
  const result = handResult([6.4], USUAL)
  expect(result.halfWidth).toBeNaN()
  expect(result).toMatchObject({ mean: 6.4, needed: 12, more: 11 })
  expect(result.sentence).toMatch(/doubt is not known/)
})

test('two alike prove nothing; four alike are enough', () => {
  expect(handResult([6.4, 6.4], USUAL).more).toBe(10)
  const four = handResult([6.4, 6.4, 6.5, 6.4], USUAL)
  expect(four.more).toBe(0)
  expect(four.sentence).toMatch(/as good as the ± 0.2 you wanted/)
})

test('spots that lie far apart: no end is promised', () => {
  const wild = handResult([4, 8, 5, 7], { ...USUAL, wanted: 0.1 })
  expect(wild.sentence).toMatch(/even 60 spots may be too few/)
})

test('every protocol has sources and steps, one waits a minute', () => {
  for (const { sources, steps } of HAND_PROTOCOLS) {
    for (const id of sources) expect(sourceById(id).publisher).not.toBe('')
    expect(steps.length).toBeGreaterThan(3)
  }
  expect(HAND_PROTOCOLS[0]!.steps.map(({ waitS }) => waitS)).toContain(60)
  for (const id of [...WATER_LESS_CACL2.sources, HAND_SPOTS.source, HAND_SPOTS.perArea.source]) {
    expect(sourceById(id).publisher).not.toBe('')
  }
})
