import fc from 'fast-check'
import { expect, test } from 'vitest'
import { leastSquares, tryLeastSquares } from '#hub/analysis/stats/least-squares.ts'
import { dot, orthonormal, takeOut } from '#hub/analysis/stats/take-out.ts'
import { normalDraws } from './normal-draws.ts'

// Longley 1967: prices, national product (thousands), unemployed, armed forces, population, year, employed; data set
// `longley` of R. Notorious for losing digits.
// prettier-ignore
const LONGLEY = [
  [83.0, 234.289, 235.6, 159.0, 107.608, 1947, 60.323], [88.5, 259.426, 232.5, 145.6, 108.632, 1948, 61.122],
  [88.2, 258.054, 368.2, 161.6, 109.773, 1949, 60.171], [89.5, 284.599, 335.1, 165.0, 110.929, 1950, 61.187],
  [96.2, 328.975, 209.9, 309.9, 112.075, 1951, 63.221], [98.1, 346.999, 193.2, 359.4, 113.27, 1952, 63.639],
  [99.0, 365.385, 187.0, 354.7, 115.094, 1953, 64.989], [100.0, 363.112, 357.8, 335.0, 116.219, 1954, 63.761],
  [101.2, 397.469, 290.4, 304.8, 117.388, 1955, 66.019], [104.6, 419.18, 282.2, 285.7, 118.734, 1956, 67.857],
  [108.4, 442.769, 293.6, 279.8, 120.445, 1957, 68.169], [110.8, 444.546, 468.1, 263.7, 121.95, 1958, 66.513],
  [112.6, 482.704, 381.3, 255.2, 123.366, 1959, 68.655], [114.2, 502.601, 393.1, 251.4, 125.368, 1960, 69.564],
  [115.7, 518.173, 480.6, 257.2, 127.852, 1961, 69.331], [116.9, 554.894, 400.7, 282.7, 130.081, 1962, 70.551],
] as const

const ones = (n: number): Float64Array => new Float64Array(n).fill(1)

// NIST Statistical Reference Datasets, linear regression, Longley: certified values from memory, in the units of the
// table above; R 4.2.2 lm gives the same to twelve digits.
test('the certified Longley coefficients come out to nine digits', () => {
  const column = (k: number): Float64Array => Float64Array.from(LONGLEY, (row) => row[k]!)
  const fit = leastSquares([ones(16), ...[0, 1, 2, 3, 4, 5].map(column)], column(6))
  const certified = [
    [-3482.25863459582, 890.420383607373],
    [0.0150618722713733, 0.0849149257747669],
    [-0.035819179292591, 0.0334910077722432],
    [-0.0202022980381683, 0.00488399681651699],
    [-0.0103322686717359, 0.00214274163161675],
    [-0.0511041056535807, 0.22607320006937],
    [1.82915146461355, 0.455478499142212],
  ] as const
  expect(fit.freedom).toBe(9)
  expect(fit.sse / 0.836424055505915).toBeCloseTo(1, 9)
  for (const [k, [beta, sd]] of certified.entries()) {
    expect(fit.beta[k]! / beta).toBeCloseTo(1, 9)
    const se = Math.sqrt((fit.sse / fit.freedom) * fit.inverse[k * 7 + k]!)
    expect(se / sd).toBeCloseTo(1, 9)
  }
})

// NIST Statistical Reference Datasets, Wampler1 (from memory): y = 1 + x + ... + x^5 at 0 to 20, all coefficients 1.
test('a fifth-degree polynomial is found exactly', () => {
  const x = Float64Array.from({ length: 21 }, (_, i) => i)
  const power = (k: number): Float64Array => x.map((v) => v ** k)
  const y = x.map((v) => 1 + v + v ** 2 + v ** 3 + v ** 4 + v ** 5)
  const { beta } = leastSquares([0, 1, 2, 3, 4, 5].map(power), y)
  for (const value of beta) expect(value).toBeCloseTo(1, 7)
})

test('epoch milliseconds as a column lose nothing', () => {
  const day = 86_400_000
  const start = 1_750_000_000_000
  const time = Float64Array.from({ length: 60 }, (_, i) => start + i * day)
  const y = time.map((t) => 6.2 + ((t - start) / day) * 0.003)
  const fit = leastSquares([ones(60), time], y)
  expect(fit.beta[1]! * day).toBeCloseTo(0.003, 12)
  expect(Math.sqrt(fit.sse)).toBeLessThan(1e-8)
})

test('well-conditioned fits agree with the normal equations', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 1e9 }),
      fc.integer({ min: 6, max: 60 }),
      fc.double({ min: -50, max: 50, noNaN: true }),
      (seed, n, offset) => {
        const draw = normalDraws(seed)
        const x = Float64Array.from({ length: n }, () => draw())
        const y = x.map((v) => offset + 2 * v + draw())
        const fit = leastSquares([ones(n), x], y)
        // Two columns: the normal equations in closed form.
        const sum = (f: (i: number) => number): number => x.reduce((total, _, i) => total + f(i), 0)
        const mx = sum((i) => x[i]!) / n
        const my = sum((i) => y[i]!) / n
        const sxx = sum((i) => (x[i]! - mx) ** 2)
        const slope = sum((i) => (x[i]! - mx) * (y[i]! - my)) / sxx
        expect(fit.beta[1]).toBeCloseTo(slope, 8)
        expect(fit.beta[0]).toBeCloseTo(my - slope * mx, 8)
        expect(fit.inverse[3]! * sxx).toBeCloseTo(1, 8)
        expect(fit.inverse[0]).toBeCloseTo(1 / n + (mx * mx) / sxx, 8)
        expect(fit.inverse[1]).toBeCloseTo(-mx / sxx, 8)
        // Residuals are at right angles to every column.
        expect(sum((i) => fit.residuals[i]!)).toBeCloseTo(0, 7)
        expect(sum((i) => fit.residuals[i]! * x[i]!)).toBeCloseTo(0, 7)
        expect(sum((i) => fit.residuals[i]! ** 2)).toBeCloseTo(fit.sse, 8)
      },
    ),
    { seed: 4, numRuns: 60 },
  )
})

test('what cannot be told is said, not guessed', () => {
  const y = Float64Array.of(1, 2, 3, 4)
  const x = Float64Array.of(1, 2, 3, 5)
  expect(() => leastSquares([ones(4), x, x.map((v) => 3 - 2 * v)], y)).toThrow('column 2 is a sum')
  expect(() => leastSquares([new Float64Array(4)], y)).toThrow('nothing but zeros')
  expect(() => leastSquares([ones(1), ones(1)], y.slice(0, 1))).toThrow('need at least 2 rows')
  expect(() => leastSquares([ones(3)], y)).toThrow('column 0 has 3 rows, expected 4')
  expect(() => leastSquares([ones(4)], Float64Array.of(1, NaN, 2, 3))).toThrow('y is NaN in row 1')
  expect(tryLeastSquares([new Float64Array(4)], y)).toBeNull()
})

test('a column that is nearly an axis already loses no digits, whichever way it points', () => {
  for (const sign of [1, -1]) {
    const axis = Float64Array.of(sign, 1e-9, -1e-9, 2e-9)
    const other = Float64Array.of(0, 1, 2, 4)
    const y = axis.map((v, i) => 3 * v + 2e-9 * other[i]!)
    const { beta } = leastSquares([axis, other], y)
    expect(beta[0]).toBeCloseTo(3, 12)
    expect(beta[1]! / 2e-9).toBeCloseTo(1, 6)
  }
})

test('what is taken out of a nearly explained column leaves the rest at right angles', () => {
  const draw = normalDraws(12)
  const column = (): Float64Array => Float64Array.from({ length: 40 }, draw)
  const basis = orthonormal([column(), column(), column()], 1e-8)
  const nearly = basis[0]!.map((v, i) => 5 * v - 3 * basis[1]![i]! + 1e-9 * draw())
  const square = takeOut(nearly, basis)
  expect(square).toBeCloseTo(dot(nearly, nearly), 30)
  for (const unit of basis) {
    expect(Math.abs(dot(unit, nearly)) / Math.sqrt(square)).toBeLessThan(1e-12)
  }
  // A sum of columns that are there already adds nothing.
  const [a, b] = [column(), column()]
  expect(orthonormal([a, b, a.map((v, i) => v + 2 * b[i]!)], 1e-8)).toHaveLength(2)
})
