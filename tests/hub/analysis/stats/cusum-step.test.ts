import { expect, test } from 'vitest'
import { type Cusum, cusumStep, startCusum } from '#hub/analysis/stats/cusum-step.ts'
import { normalCdf } from '#hub/analysis/stats/distributions.ts'
import { leastSquares } from '#hub/analysis/stats/least-squares.ts'
import { NILE } from './nile.ts'
import { normalDraws } from './normal-draws.ts'

/** Unit standard deviation of the residuals, reference value half of it. */
const K = 0.5

/**
 * Mean run lengths of the upper sum from `states` starting values, by the Markov chain of Brook and Evans 1972: the
 * range from 0 to `limit` is cut into cells, a residual is a whole number of cells, and the kernel itself says where
 * it leads. Element i is the mean run length from i cells up.
 */
function upperRunLengths(
  limit: number,
  shift: number,
  states: number,
): { runLength: Float64Array; width: number } {
  const width = limit / (states - 0.5)
  const columns = Array.from({ length: states }, () => new Float64Array(states))
  for (let from = 0; from < states; from++) {
    columns[from]![from] = 1
    let below = 0
    // Beyond these every residual leads to the lowest cell, or over the limit.
    for (let cells = -from; cells < states - from; cells++) {
      const sums: Cusum = { ...startCusum(), above: from * width, below: -1e9 }
      const residual = K + cells * width
      const signal = cusumStep(sums, residual, 0, { reference: K, limit })
      expect(signal).toBe(0)
      const to = Math.round(sums.above / width)
      const upTo = normalCdf(residual + width / 2 - shift)
      columns[to]![from] = columns[to]![from]! - (upTo - below)
      below = upTo
    }
    const over = { ...startCusum(), above: from * width }
    expect(cusumStep(over, K + (states - from) * width, 0, { reference: K, limit })).toBe(1)
  }
  const runLength = leastSquares(columns, new Float64Array(states).fill(1)).beta
  return { runLength, width }
}

// Lucas and Crosier, Fast initial response for CUSUM quality-control schemes, Technometrics 24 (1982), table 1: h = 4
// as reproduced in the help of the R package spc; the column for h = 5 from memory.
const SHIFTS = [0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4, 5] as const
const H4 = [168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.62, 2.19, 1.71, 1.31] as const
const H4_HEAD_START = [149, 62.7, 20.1, 8.97, 5.29, 2.86, 2.01, 1.59, 1.32, 1.07, 1.01] as const
const H5 = [465, 139, 38.0, 17.0, 10.4, 5.75, 4.01, 3.11, 2.57, 2.01, 1.69] as const
/** Three printed digits, and the cells of the chain. */
const PRINTED = 0.007

function twoSided(limit: number, shift: number, states: number): { zero: number; head: number } {
  const up = upperRunLengths(limit, shift, states)
  // Against a shift this large the lower sum signals less than once in a million steps.
  if (shift >= 2)
    return { zero: up.runLength[0]!, head: up.runLength[Math.round(limit / 2 / up.width)]! }
  const down = upperRunLengths(limit, -shift, states)
  const [u, d] = [up.runLength[0]!, down.runLength[0]!]
  const half = Math.round(limit / 2 / up.width)
  const [uh, dh] = [up.runLength[half]!, down.runLength[half]!]
  return { zero: (u * d) / (u + d), head: (uh * d + u * dh - u * d) / (u + d) }
}

test('mean run lengths of the chart are those published', () => {
  for (const [i, shift] of SHIFTS.entries()) {
    const four = twoSided(4, shift, 90)
    expect(Math.abs(four.zero / H4[i]! - 1), `h 4, shift ${shift}`).toBeLessThan(PRINTED)
    expect(Math.abs(four.head / H4_HEAD_START[i]! - 1), `head start ${shift}`).toBeLessThan(0.012)
    const five = twoSided(5, shift, 90)
    expect(Math.abs(five.zero / H5[i]! - 1), `h 5, shift ${shift}`).toBeLessThan(PRINTED)
  }
})

function runLength(next: () => number, limit: number): number {
  const sums = startCusum()
  for (let step = 1; ; step++) {
    if (cusumStep(sums, next(), step, { reference: K, limit }) !== 0) return step
  }
}

function meanAndError(values: readonly number[]): { mean: number; se: number } {
  const mean = values.reduce((a, b) => a + b, 0) / values.length
  const square = values.reduce((a, b) => a + (b - mean) ** 2, 0) / (values.length - 1)
  return { mean, se: Math.sqrt(square / values.length) }
}

// Exact values: R package spc 0.6.7, xcusum.arl, two-sided, k 0.5, h 4.
test.for([
  [0, 167.683788813616],
  [1, 8.38313187049516],
  [3, 2.19448090861161],
] as const)('simulated runs with shift %f last %f steps on average', ([shift, exact]) => {
  const draw = normalDraws(31 + shift)
  const runs = Array.from({ length: 3000 }, () => runLength(() => shift + draw(), 4))
  const { mean, se } = meanAndError(runs)
  expect(Math.abs(mean - exact)).toBeLessThan(3 * se)
})

// Simulated in R 4.2.2, 700 runs each, unit-variance first-order autoregression, k 0.5, h 5: run length when nothing
// has happened, and its standard error. Whoever promises the white-noise figure for correlated hours is off sixteenfold.
test.for([
  [0, 461.93, 17.24],
  [0.1, 257.56, 9.99],
  [0.25, 129.46, 4.47],
  [0.5, 53.76, 1.78],
  [0.75, 30.62, 1.01],
  [0.9, 29.58, 1.08],
] as const)('correlation of %f leaves %f steps between false signals', ([phi, want, theirs]) => {
  const draw = normalDraws(900 + Math.round(100 * phi))
  const runs = Array.from({ length: 700 }, () => {
    let last = draw()
    return runLength(() => {
      const now = last
      last = phi * last + Math.sqrt(1 - phi * phi) * draw()
      return now
    }, 5)
  })
  const { mean, se } = meanAndError(runs)
  expect(Math.abs(mean - want)).toBeLessThan(3 * Math.hypot(se, theirs))
})

// Montgomery, Introduction to Statistical Quality Control, first CUSUM example (target 10, K 0.5, H 5; data from
// memory; the shift to 11 begins with sample 21): the upper sum is 5.28 at sample 29, seven samples after it left zero.
// prettier-ignore
const TABULAR = [9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.2, 10.34, 9.03, 11.47, 10.51, 9.4, 10.08,
  9.37, 10.62, 10.31, 8.52, 10.84, 10.9, 9.33, 12.29, 11.5, 10.6, 11.08, 10.38, 11.62, 11.31, 10.52]
// prettier-ignore
const ABOVE = [0, 0, 0, 1.16, 2.82, 2.5, 0.04, 1, 0, 0, 0, 0.97, 0.98, 0, 0, 0, 0.12, 0, 0, 0.34, 0.74, 0, 1.79, 2.79,
  2.89, 3.47, 3.35, 4.47, 5.28, 5.3]
// prettier-ignore
const BELOW = [0.05, 1.56, 1.77, 0, 0, 0, 1.46, 0, 0.3, 0, 0.47, 0, 0, 0.1, 0, 0.13, 0, 0, 0.98, 0, 0, 0.17, 0, 0, 0, 0,
  0, 0, 0, 0]

test('the tabular example goes step by step as printed', () => {
  const sums = startCusum()
  const signals = TABULAR.map((value, i) => {
    const signal = cusumStep(sums, value - 10, i + 1, { reference: 0.5, limit: 5 })
    expect(sums.above).toBeCloseTo(ABOVE[i]!, 9)
    expect(sums.below).toBeCloseTo(BELOW[i]!, 9)
    return signal
  })
  expect(signals.findIndex((signal) => signal !== 0) + 1).toBe(29)
  expect(signals[28]).toBe(1)
  expect(sums.aboveSince).toBe(23)
})

// Cobb 1978 and Zeileis et al. 2003 (R package strucchange): the level of the Nile fell after 1898.
test('the fall of the Nile is dated to the first year after 1898', () => {
  const before = NILE.slice(0, 20)
  const { mean, se } = meanAndError(Array.from(before))
  const sd = se * Math.sqrt(before.length)
  const sums = startCusum()
  const chart = { reference: K, limit: 5 }
  const at = NILE.findIndex((flow, i) => cusumStep(sums, (flow - mean) / sd, 1871 + i, chart) !== 0)
  expect(sums.below).toBeGreaterThan(5)
  expect(sums.belowSince).toBe(1899)
  expect(1871 + at).toBeLessThan(1910)
})

test('one wild value counts only as far as the clip', () => {
  const sums = startCusum()
  const chart = { reference: 0.3, limit: 1.8, clip: 2 }
  expect(cusumStep(sums, 40, 1, chart)).toBe(0)
  expect(sums.above).toBeCloseTo(1.7, 12)
  expect(cusumStep(sums, -40, 2, chart)).toBe(0)
  expect(sums).toMatchObject({ above: 0, belowSince: 2 })
})

test('a missing residual leaves everything as it was', () => {
  const sums = startCusum()
  cusumStep(sums, 1, 5, { reference: 0.3, limit: 9 })
  const known = { ...sums }
  expect(cusumStep(sums, NaN, 6, { reference: 0.3, limit: 9 })).toBe(0)
  expect(sums).toEqual(known)
})

test('what is seen upside down signals below', () => {
  const up = startCusum()
  const down = startCusum()
  const draw = normalDraws(77)
  for (let step = 0; step < 400; step++) {
    const residual = draw()
    const signal = cusumStep(up, residual, step, { reference: K, limit: 4 })
    // Adding zero makes -0 a plain 0.
    expect(cusumStep(down, -residual, step, { reference: K, limit: 4 }) + 0).toBe(-signal + 0)
    expect(down).toEqual({
      above: up.below,
      below: up.above,
      aboveSince: up.belowSince,
      belowSince: up.aboveSince,
    })
  }
})
