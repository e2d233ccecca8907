import fc from 'fast-check'
import { expect, test } from 'vitest'
import { arRegression, correctedRho } from '#hub/analysis/stats/ar-regression.ts'
import { harmonics } from '#hub/analysis/stats/harmonics.ts'
import { leastSquares } from '#hub/analysis/stats/least-squares.ts'
import { tQuantile } from '#hub/analysis/stats/t-quantile.ts'
import { whitener } from '#hub/analysis/stats/whitener.ts'
import { seededRandom } from '../../../support/random.ts'
import { LAKE_HURON } from './lake-huron.ts'
import { ar1Series, normalDraws } from './normal-draws.ts'

const ones = (n: number): Float64Array => new Float64Array(n).fill(1)
const steps = (n: number): Float64Array => Float64Array.from({ length: n }, (_, i) => i)

// Generalised least squares with the whole covariance matrix 0.7^|i - j|, in R 4.2.2: level of the middle year less
// 578 feet, slope, residual square in that matrix, standard errors; all 98 years, and seven of them left out.
test.for([
  {
    gaps: [],
    level: 1.132731676985,
    slope: -0.02161535854475,
    square: 97.35272634885,
    se: [0.2382296367636, 0.007983708854146],
  },
  {
    gaps: [4, 5, 19, 49, 50, 51, 79],
    level: 1.165981007124,
    slope: -0.02181179205078,
    square: 89.70568454321,
    se: [0.2386062462782, 0.007983896585903],
  },
])('freed of correlation over gaps $gaps, Lake Huron gives what the full matrix gives', (want) => {
  const step = steps(98).filter((s) => !want.gaps.includes(s))
  const rho = 0.7
  const white = whitener(step, rho)
  const y = step.map((s) => LAKE_HURON[s]! - 578)
  const columns = [ones(step.length), step.map((s) => s - 45)]
  const fit = leastSquares(columns.map(white), white(y))
  expect(fit.beta[0]).toBeCloseTo(want.level, 9)
  expect(fit.beta[1]).toBeCloseTo(want.slope, 11)
  expect(fit.sse / (1 - rho * rho)).toBeCloseTo(want.square, 8)
  for (const [k, se] of want.se.entries()) {
    expect(Math.sqrt((fit.sse / fit.freedom) * fit.inverse[3 * k]!)).toBeCloseTo(se, 9)
  }
})

// R 4.2.2, arima(LakeHuron, order = c(1, 0, 0), xreg = year), maximum likelihood: correlation 0.783 (0.063), slope
// -0.0204 (0.0105) feet a year. The correction for short records puts rho above it.
test('the fall of Lake Huron agrees with maximum likelihood', () => {
  const fit = arRegression([ones(98), steps(98)], LAKE_HURON, steps(98))
  expect(Math.abs(fit.beta[1]! + 0.020393)).toBeLessThan(0.0105 / 4)
  expect(fit.rho).toBeGreaterThan(0.783)
  expect(fit.rho).toBeLessThan(0.783 + 2 * 0.063)
  expect(fit.se[1]).toBeGreaterThan(0.009)
  expect(fit.se[1]).toBeLessThan(0.018)
  expect(fit.freedom).toBeCloseTo(Math.max(3, (98 * (1 - fit.rho)) / (1 + fit.rho) - 2), 12)
})

test('errors that turn round each time make it plain least squares', () => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 1e9 }), fc.integer({ min: 8, max: 80 }), (seed, n) => {
      const draw = normalDraws(seed)
      const x = steps(n)
      const y = x.map((v) => 3 - 0.2 * v + (v % 2 === 0 ? 1 : -1) * (2 + Math.abs(draw())))
      const plain = leastSquares([ones(n), x], y)
      const fit = arRegression([ones(n), x], y, x)
      expect(fit.rho).toBe(0)
      expect(fit.freedom).toBe(Math.max(3, n - 2))
      for (const k of [0, 1]) {
        expect(fit.beta[k]).toBeCloseTo(plain.beta[k]!, 10)
        const se = Math.sqrt((plain.sse / (n - 2)) * plain.inverse[3 * k]!)
        expect(fit.se[k]).toBeCloseTo(se, 10)
      }
      expect(fit.sse).toBeCloseTo(plain.sse, 8)
    }),
    { seed: 11, numRuns: 40 },
  )
})

// Weeks with a season and errors correlated from week to week, some weeks missing: the interval of the slope must
// cover in about 95 of 100 records. The bound is 0.95 less three standard errors of 400 runs; rho as estimated, not
// corrected for short records, stays below it (0.89 and 0.88 for the second and third), plain least squares far below.
test.for([
  { weeks: 65, phi: 0.6, missing: 0 },
  { weeks: 104, phi: 0.6, missing: 0 },
  { weeks: 157, phi: 0.85, missing: 0 },
  { weeks: 157, phi: 0.85, missing: 0.15 },
])('$weeks weeks, correlation $phi, $missing missing: intervals cover what they say', (record) => {
  const runs = 400
  const draw = normalDraws(2026)
  const random = seededRandom(7)
  let covered = 0
  let coveredPlain = 0
  for (let run = 0; run < runs; run++) {
    const noise = ar1Series(draw, record.weeks, record.phi, 0.08)
    const step = steps(record.weeks).filter(() => random() >= record.missing)
    const time = step.map((s) => (s - record.weeks / 2) / 52.18)
    const columns = [ones(step.length), time, ...harmonics(time, 1, 1)]
    const y = time.map((t, i) => 6.4 - 0.1 * t + 0.2 * Math.cos(2 * Math.PI * t) + noise[step[i]!]!)
    const fit = arRegression(columns, y, step)
    if (Math.abs(fit.beta[1]! + 0.1) <= tQuantile(0.975, fit.freedom) * fit.se[1]!) covered++
    const plain = leastSquares(columns, y)
    const se = Math.sqrt((plain.sse / plain.freedom) * plain.inverse[5]!)
    if (Math.abs(plain.beta[1]! + 0.1) <= tQuantile(0.975, plain.freedom) * se) coveredPlain++
  }
  expect(covered / runs).toBeGreaterThan(0.917)
  expect(covered / runs).toBeLessThan(0.985)
  expect(coveredPlain / runs).toBeLessThan(0.75)
})

test('steps that do not ascend are refused', () => {
  const y = Float64Array.of(1, 2, 3, 4)
  expect(() => arRegression([ones(4)], y, Float64Array.of(0, 1, 1, 2))).toThrow('steps must ascend')
  expect(() => arRegression([ones(4)], y, Float64Array.of(0, NaN, 1, 2))).toThrow(RangeError)
})

test('a short record still has three degrees of freedom, and one without errors has no width', () => {
  const fit = arRegression([ones(5), steps(5)], Float64Array.of(1, 3, 5, 7, 9), steps(5))
  expect(fit.beta[1]).toBeCloseTo(2, 12)
  expect(fit.se[1]).toBeLessThan(1e-12)
  expect(fit.freedom).toBe(3)
})

test('two weeks have a line through them, but nobody knows how sure it is', () => {
  const fit = arRegression([ones(2), steps(2)], Float64Array.of(6, 6.5), steps(2))
  expect(fit.beta[1]).toBeCloseTo(0.5, 12)
  expect(fit.se[1]).toBeNaN()
})

test('a correlation of one, or below nothing, cannot be taken out', () => {
  expect(() => whitener(steps(3), 1)).toThrow('rho must be from 0 to below 1')
  expect(() => whitener(steps(3), -0.1)).toThrow(RangeError)
  expect(whitener(steps(3), 0)(Float64Array.of(1, 5, 2))).toEqual(Float64Array.of(1, 5, 2))
})

test('only neighbours one step apart tell how alike neighbours are', () => {
  // Four pairs far apart; alike within a pair, the sign turns from pair to pair. By hand: pairs' products
  // 0.5 + 0.5 + 0.5 + 0.5 over 4, squares 4 (1 + 0.25) over 8: 0.8; corrected by (2 + 2 + 1.6) / 8, at most 0.97.
  const residuals = Float64Array.of(1, 0.5, -1, -0.5, 1, 0.5, -1, -0.5)
  const step = Float64Array.of(0, 1, 10, 11, 20, 21, 30, 31)
  expect(correctedRho(residuals, step, 2)).toBe(0.97)
  // With unlike pairs, 1 and 0.1: 0.1 over (1.01 / 2) = 0.198, plus (1 + 2 + 0.396) / 8.
  const faint = Float64Array.of(1, 0.1, -1, -0.1, 1, 0.1, -1, -0.1)
  const rho = 0.1 / 0.505
  expect(correctedRho(faint, step, 1)).toBeCloseTo(rho + (3 + 2 * rho) / 8, 12)
  // Two pairs are too few to tell.
  expect(correctedRho(faint.slice(0, 4), step.slice(0, 4), 1)).toBe(0)
})

test('the passes have settled: the residuals have the correlation that was taken out', () => {
  const columns = [ones(98), steps(98)]
  const fit = arRegression(columns, LAKE_HURON, steps(98))
  const first = correctedRho(leastSquares(columns, LAKE_HURON).residuals, steps(98), 2)
  const again = correctedRho(fit.residuals, steps(98), 2)
  expect(Math.abs(again - fit.rho)).toBeLessThan(Math.abs(first - fit.rho) / 10)
  expect(fit.rho).not.toBe(first)
})
