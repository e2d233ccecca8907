import { expect, test } from 'vitest'
import { randomEffects } from '#hub/analysis/amendment/random-effects.ts'

/**
 * Thirteen trials of a vaccine (Colditz and others, JAMA 271, 1994): cases and others among the vaccinated, cases
 * and others among the rest. The table is from memory.
 */
const TRIALS = [
  [4, 119, 11, 128],
  [6, 300, 29, 274],
  [3, 228, 11, 209],
  [62, 13536, 248, 12619],
  [33, 5036, 47, 5761],
  [180, 1361, 372, 1079],
  [8, 2537, 10, 619],
  [505, 87886, 499, 87892],
  [29, 7470, 45, 7232],
  [17, 1699, 65, 1600],
  [186, 50448, 141, 27197],
  [5, 2493, 3, 2338],
  [27, 16886, 29, 17825],
] as const

test('the vaccine trials pool as published by DerSimonian and Laird (log risk ratio, from memory)', () => {
  const studies = TRIALS.map(([a, b, c, d]) => ({
    value: Math.log(a / (a + b) / (c / (c + d))),
    se: Math.sqrt(1 / a - 1 / (a + b) + 1 / c - 1 / (c + d)),
  }))
  const pooled = randomEffects(studies)
  expect(pooled.q).toBeCloseTo(152.233, 2)
  expect(pooled.tau2).toBeCloseTo(0.3088, 3)
  expect(pooled.value).toBeCloseTo(-0.7141, 3)
  expect(pooled.se).toBeCloseTo(0.1787, 3)
  expect(pooled.i2).toBeCloseTo(0.9212, 3)
  expect(pooled.weights.reduce((sum, w) => sum + w, 0)).toBeCloseTo(1, 12)
})

test('studies that agree pool by inverse variance alone', () => {
  const pooled = randomEffects([
    { value: 1, se: 0.1 },
    { value: 1.1, se: 0.2 },
  ])
  expect(pooled.tau2).toBe(0)
  expect(pooled.i2).toBe(0)
  expect(pooled.value).toBeCloseTo((1 * 100 + 1.1 * 25) / 125, 12)
  expect(pooled.se).toBeCloseTo(1 / Math.sqrt(125), 12)
})

test('one study is no pool, and an error must be positive', () => {
  expect(() => randomEffects([{ value: 1, se: 0.1 }])).toThrow(RangeError)
  expect(() =>
    randomEffects([
      { value: 1, se: 0 },
      { value: 1, se: 0.1 },
    ]),
  ).toThrow(RangeError)
})
