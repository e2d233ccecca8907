import fc from 'fast-check'
import { expect, test } from 'vitest'
import { mannKendall } from '#hub/analysis/stats/mann-kendall.ts'
import { seasonalKendall } from '#hub/analysis/stats/seasonal-kendall.ts'
import { theilSen } from '#hub/analysis/stats/theil-sen.ts'
import { LAKE_HURON } from './lake-huron.ts'
import { NILE } from './nile.ts'
import { ar1Series, normalDraws } from './normal-draws.ts'
import { NOTTINGHAM } from './nottingham.ts'

const counting = (n: number): Float64Array => Float64Array.from({ length: n }, (_, i) => i)

// Formula of Mann 1945 and Kendall 1975 with ties, in R 4.2.2; tau is cor(method = "kendall"). The Nile row also by
// scipy 1.10.1 (kendalltau).
test.for([
  {
    name: 'Nile',
    y: NILE,
    s: -1387,
    variance: 112728.33333333333,
    z: -4.128066522844101,
    p: 3.658262921664327e-5,
    tau: -0.2807413347246131,
  },
  {
    name: 'Lake Huron',
    y: LAKE_HURON,
    s: -1682,
    variance: 106136.6666667,
    z: -5.15982522603,
    p: 2.47180483773e-7,
    tau: -0.354366707503,
  },
])('$name: S, its variance with ties, Z, p and tau-b', ({ y, ...want }) => {
  const got = mannKendall(y)
  expect(got.s).toBe(want.s)
  expect(got.variance / want.variance).toBeCloseTo(1, 9)
  expect(got.z).toBeCloseTo(want.z, 9)
  expect(got.p / want.p).toBeCloseTo(1, 8)
  expect(got.tau).toBeCloseTo(want.tau, 9)
})

// scipy 1.10.1, theilslopes, 95 %.
test('the slope of the Nile and its interval agree with scipy', () => {
  const got = theilSen(counting(100), NILE)
  expect(got.slope).toBeCloseTo(-2.6, 9)
  expect(got.intercept).toBeCloseTo(1022.2, 9)
  expect(got.low).toBeCloseTo(-3.627906976744186, 9)
  expect(got.high).toBeCloseTo(-1.4285714285714286, 9)
})

// Median of the pairwise slopes, in R 4.2.2.
test('the slope of Lake Huron agrees with R', () => {
  const got = theilSen(
    counting(98).map((i) => 1875 + i),
    LAKE_HURON,
  )
  expect(got.slope).toBeCloseTo(-0.025125, 9)
  expect(got.intercept).toBeCloseTo(627.4479375, 7)
})

// Made-up pH with two values that are far off (numpy default_rng(42)); scipy 1.10.1, theilslopes.
// prettier-ignore
const UNEVEN = [
  [2.628, 6.452], [3.829, 6.432], [5.651, 6.33], [7.687, 6.396], [7.795, 6.386], [9.257, 7.59], [11.368, 6.436],
  [11.678, 6.383], [13.615, 6.413], [13.634, 6.365], [19.55, 6.364], [21.272, 6.387], [22.228, 6.217],
  [22.248, 6.308], [26.333, 6.283], [26.605, 6.269], [27.023, 6.297], [28.003, 7.636], [28.173, 6.246],
  [28.542, 6.392], [33.275, 6.166], [37.9, 6.26], [38.632, 6.297], [40.189, 6.326], [40.983, 6.334],
  [41.842, 6.338], [44.686, 6.238], [45.485, 6.227], [45.668, 6.332], [46.437, 6.245], [46.703, 6.158],
  [47.164, 6.168], [49.366, 6.178], [49.658, 6.291], [51.516, 6.257], [53.587, 6.294], [55.606, 6.199],
  [58.051, 6.239], [58.242, 6.275], [58.537, 6.2],
] as const

test('two values a whole pH off hardly turn the slope of an uneven series', () => {
  const x = Float64Array.from(UNEVEN, (row) => row[0])
  const y = Float64Array.from(UNEVEN, (row) => row[1])
  const got = theilSen(x, y)
  expect(got.slope).toBeCloseTo(-0.0035654346944045167, 12)
  expect(got.intercept).toBeCloseTo(6.407202238252002, 12)
  expect(got.low).toBeCloseTo(-0.005012730744748546, 12)
  expect(got.high).toBeCloseTo(-0.002472838239549636, 12)
})

test('slope and interval turn with the units', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 1e9 }),
      fc.integer({ min: 3, max: 40 }),
      fc.double({ min: 0.01, max: 100, noNaN: true }),
      fc.double({ min: -1000, max: 1000, noNaN: true }),
      (seed, n, scale, shift) => {
        const draw = normalDraws(seed)
        const x = counting(n).map((i) => i + 0.3 * Math.tanh(draw()))
        const y = x.map(() => draw())
        const plain = theilSen(x, y)
        const turned = theilSen(
          x,
          y.map((v) => shift - scale * v),
        )
        const close = (got: number, want: number): void =>
          expect(Math.abs(got - want)).toBeLessThan(1e-9 * (1000 + scale))
        close(turned.slope, -scale * plain.slope)
        close(turned.low, -scale * plain.high)
        close(turned.high, -scale * plain.low)
        close(turned.intercept, shift - scale * plain.intercept)
        // Time in other units, and later.
        const late = theilSen(
          x.map((v) => 50 + 4 * v),
          y,
        )
        close(late.slope, plain.slope / 4)
        expect(plain.low).toBeLessThanOrEqual(plain.slope)
        expect(plain.high).toBeGreaterThanOrEqual(plain.slope)
      },
    ),
    { seed: 21, numRuns: 60 },
  )
})

test('what has no pair has no slope; what does not change has no trend', () => {
  expect(theilSen(Float64Array.of(1), Float64Array.of(6.5)).slope).toBeNaN()
  expect(theilSen(Float64Array.of(2, 2), Float64Array.of(6.5, 7)).slope).toBeNaN()
  const flat = mannKendall(new Float64Array(9).fill(6.5))
  expect(flat).toMatchObject({ s: 0, z: 0, p: 1 })
  expect(flat.tau).toBeNaN()
})

const months = (n: number): Int32Array => Int32Array.from({ length: n }, (_, i) => i % 12)
const years = (n: number): Int32Array =>
  Int32Array.from({ length: n }, (_, i) => Math.floor(i / 12))

// Six years of made-up monthly pH, slope -0.05 a year; Hirsch, Slack and Smith 1982 without covariances, per-season S
// cross-checked with scipy 1.10.1.
// prettier-ignore
const SIX_YEARS = Float64Array.of(
  6.53, 6.58, 6.69, 6.72, 6.63, 6.66, 6.47, 6.38, 6.32, 6.28, 6.33, 6.37,
  6.42, 6.57, 6.55, 6.6, 6.57, 6.51, 6.48, 6.26, 6.21, 6.29, 6.21, 6.38,
  6.33, 6.51, 6.55, 6.63, 6.68, 6.4, 6.43, 6.29, 6.14, 6.05, 6.19, 6.24,
  6.37, 6.48, 6.68, 6.58, 6.49, 6.49, 6.37, 6.32, 6.19, 6.12, 6.24, 6.14,
  6.26, 6.36, 6.49, 6.45, 6.56, 6.41, 6.2, 6.1, 6.11, 6.11, 6.22, 6.38,
  6.28, 6.31, 6.32, 6.52, 6.41, 6.35, 6.21, 6.12, 6.11, 6.01, 6.02, 6.05,
)

test('like months of six years are compared with like', () => {
  const got = seasonalKendall(SIX_YEARS, months(72), years(72))
  expect(got.s).toBe(-119)
  expect(got.variance).toBeCloseTo(337, 9)
  expect(got.p / 1.2940468410964042e-10).toBeCloseTo(1, 6)
  expect(got.slope).toBeCloseTo(-0.05, 9)
})

// Hirsch and Slack 1984 written out with rank() and matrices in R 4.2.2, whole and with four months missing. The
// correction turns a trend at p 0.036 into none at p 0.11.
test.for([
  {
    gaps: [],
    s: 224,
    variance: 11364,
    corrected: 19663.33333333,
    slope: 0.05,
    p: 0.03644818157262,
    correctedP: 0.1117694811359,
  },
  {
    gaps: [25, 83, 228, 233],
    s: 235,
    variance: 10835.66666667,
    corrected: 18879,
    slope: 0.05714285714286,
    p: 0.02457891890858,
    correctedP: 0.08855947086435,
  },
])('Nottingham air temperature with $gaps.length months missing', (want) => {
  const keep = Array.from(NOTTINGHAM.keys()).filter((i) => !want.gaps.includes(i))
  const got = seasonalKendall(
    Float64Array.from(keep, (i) => NOTTINGHAM[i]!),
    Int32Array.from(keep, (i) => i % 12),
    Int32Array.from(keep, (i) => 1920 + Math.floor(i / 12)),
  )
  expect(got.s).toBe(want.s)
  expect(got.variance).toBeCloseTo(want.variance, 6)
  expect(got.correctedVariance).toBeCloseTo(want.corrected, 6)
  expect(got.slope).toBeCloseTo(want.slope, 10)
  expect(got.p).toBeCloseTo(want.p, 9)
  expect(got.correctedP).toBeCloseTo(want.correctedP, 9)
})

// Correlated months without any trend: at the 5 % level a sound test calls a trend in about 5 of 100 records.
test('only the corrected test keeps its promise for months that follow each other', () => {
  const draw = normalDraws(1984)
  const runs = 300
  let plain = 0
  let corrected = 0
  for (let run = 0; run < runs; run++) {
    const got = seasonalKendall(ar1Series(draw, 180, 0.6, 1), months(180), years(180))
    if (got.p < 0.05) plain++
    if (got.correctedP < 0.05) corrected++
  }
  expect(plain / runs).toBeGreaterThan(0.2)
  expect(corrected / runs).toBeLessThan(0.09)
  expect(corrected / runs).toBeGreaterThan(0.01)
})

test('values that are missing or doubled are refused, not counted wrong', () => {
  const gap = Float64Array.of(6, NaN, 6.2)
  expect(() => mannKendall(gap)).toThrow('y is NaN in row 1')
  expect(() => theilSen(counting(3), gap)).toThrow('y is NaN in row 1')
  expect(() => theilSen(counting(2), Float64Array.of(6, 6, 6))).toThrow('x has 2 rows')
  const twice = Int32Array.of(1, 1)
  expect(() => seasonalKendall(Float64Array.of(6, 7), twice, Int32Array.of(2025, 2025))).toThrow(
    'season 1 of year 2025 has two values',
  )
})
