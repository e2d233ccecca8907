import { expect, test } from 'vitest'
import { arRegression } from '#hub/analysis/stats/ar-regression.ts'
import { harmonics } from '#hub/analysis/stats/harmonics.ts'
import { leastSquares } from '#hub/analysis/stats/least-squares.ts'
import { NOTTINGHAM } from './nottingham.ts'

const n = NOTTINGHAM.length
const month = Float64Array.from({ length: n }, (_, i) => i)
const columns = [new Float64Array(n).fill(1), month, ...harmonics(month, 12, 2)]

// R 4.2.2: lm(nottem ~ t + cos(2 pi t / 12) + sin(...) + cos(4 pi t / 12) + sin(...)), t from 0.
test('the season of twenty years in Nottingham comes out as in R', () => {
  const fit = leastSquares(columns, NOTTINGHAM)
  const want = [
    [48.48111672619719, 0.2963707232695],
    [0.00467336072917, 0.00214610987864],
    [-11.46865198706617, 0.21007670013609],
    [-1.3730986741986, 0.21021837336052],
    [1.26175669406251, 0.21007670013609],
    [0.8272101926378, 0.21009862330651],
  ] as const
  for (const [k, [beta, se]] of want.entries()) {
    expect(fit.beta[k]).toBeCloseTo(beta, 10)
    expect(Math.sqrt((fit.sse / fit.freedom) * fit.inverse[k * 7]!)).toBeCloseTo(se, 10)
  }
  expect(fit.sse).toBeCloseTo(1239.1034054, 6)
})

test('what is left after the season has none: its months average nothing', () => {
  const fit = arRegression(columns, NOTTINGHAM, month)
  const shares = [1, 2].map((order) => {
    let cos = 0
    let sin = 0
    for (const [i, r] of fit.residuals.entries()) {
      cos += (2 / n) * r * Math.cos((2 * Math.PI * order * i) / 12)
      sin += (2 / n) * r * Math.sin((2 * Math.PI * order * i) / 12)
    }
    return Math.hypot(cos, sin)
  })
  // The season itself is 11.6 and 1.5 degrees.
  for (const share of shares) expect(share).toBeLessThan(0.05)
  // Neighbouring months are alike, so the trend is less sure than least squares says (0.0021).
  expect(fit.rho).toBeGreaterThan(0.1)
  expect(fit.se[1]).toBeGreaterThan(0.0024)
})

test('epoch milliseconds give the same season as days', () => {
  const day = 86_400_000
  const start = 20_000
  const days = Float64Array.from({ length: 400 }, (_, i) => start + i)
  const year = 365.2425
  const inDays = harmonics(days, year, 3)
  const inMs = harmonics(
    days.map((d) => d * day),
    year * day,
    3,
  )
  expect(inMs).toHaveLength(6)
  for (const [k, column] of inMs.entries()) {
    for (const [i, value] of column.entries()) expect(value).toBeCloseTo(inDays[k]![i]!, 9)
  }
})
