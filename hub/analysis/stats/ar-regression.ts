import { leastSquares } from './least-squares.ts'
import { whitener } from './whitener.ts'

/** Regression with errors that follow each other. */
export interface ArFit {
  readonly beta: Float64Array
  /** Standard errors of `beta`; NaN when there are no more rows than columns. */
  readonly se: Float64Array
  /** Correlation of neighbouring errors one step apart, corrected for short records, 0 to 0.97. */
  readonly rho: number
  /** Degrees of freedom that are left when neighbours are not independent; at least 3. */
  readonly freedom: number
  /** Of the whitened residuals. */
  readonly sse: number
  /** Row-major (X'X)^-1 of the whitened columns. */
  readonly inverse: Float64Array
  /** As measured, not whitened. */
  readonly residuals: Float64Array
}

const PASSES = 3
const MOST_RHO = 0.97
/** Below this the correction does more harm than good. */
const CORRECT_FROM = 0.1

/**
 * Least squares with first-order autoregressive errors by Prais and Winsten (1954), three passes. A gap of k steps
 * weakens the correlation to rho^k. The estimated rho of a short record is too small; it is raised by
 * (p + 2 + 2 rho) / n, without which intervals cover less than they say.
 *
 * @param step whole steps, ascending, gaps allowed
 * @throws RangeError as `leastSquares`, and when the steps do not ascend
 */
export function arRegression(
  columns: readonly Float64Array[],
  y: Float64Array,
  step: Float64Array,
): ArFit {
  const n = y.length
  const p = columns.length
  let rho = 0
  let fit = leastSquares(columns, y)
  let residuals = fit.residuals
  for (let pass = 0; pass < PASSES; pass++) {
    rho = correctedRho(residuals, step, p)
    const white = whitener(step, rho)
    fit = leastSquares(columns.map(white), white(y))
    residuals = Float64Array.from(y, (value, i) => {
      let fitted = 0
      for (let k = 0; k < p; k++) fitted += fit.beta[k]! * columns[k]![i]!
      return value - fitted
    })
  }
  const freedom = Math.max(3, (n * (1 - rho)) / (1 + rho) - p)
  const variance = n > p ? fit.sse / (n - p) : NaN
  const se = Float64Array.from(fit.beta, (_, k) => Math.sqrt(variance * fit.inverse[k * p + k]!))
  return { beta: fit.beta, se, rho, freedom, sse: fit.sse, inverse: fit.inverse, residuals }
}

/** Lag-one correlation of residuals, corrected for a fit of `p` columns; only neighbours one step apart count. */
export function correctedRho(residuals: Float64Array, step: Float64Array, p: number): number {
  const n = residuals.length
  let cross = 0
  let pairs = 0
  let square = 0
  for (let i = 0; i < n; i++) {
    square += residuals[i]! ** 2
    if (i > 0 && step[i]! - step[i - 1]! === 1) {
      cross += residuals[i]! * residuals[i - 1]!
      pairs++
    }
  }
  if (pairs < 3 || square === 0) return 0
  const rho = cross / pairs / (square / n)
  const corrected = rho > CORRECT_FROM ? rho + (p + 2 + 2 * rho) / n : rho
  return Math.min(MOST_RHO, Math.max(0, corrected))
}

/** One column freed of first-order correlation; `whitener` serves many. */
export function whiten(column: Float64Array, step: Float64Array, rho: number): Float64Array {
  return whitener(step, rho)(column)
}
