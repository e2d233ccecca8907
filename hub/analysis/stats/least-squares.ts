import { checkColumn } from './check-column.ts'

/** A fit of `y` by a sum of columns. */
export interface LinearFit {
  /** One coefficient per column. */
  readonly beta: Float64Array
  /** Row-major (X'X)^-1. */
  readonly inverse: Float64Array
  /** Residual sum of squares. */
  readonly sse: number
  /** Rows minus columns. */
  readonly freedom: number
  readonly residuals: Float64Array
}

/** A diagonal of R below this share of its column's length means that the column adds nothing. */
const RANK_SHARE = 1e-10

/**
 * Ordinary least squares by Householder reflections: nothing is lost to squared column lengths, so epoch
 * milliseconds may be a column. O(n p^2).
 *
 * @param columns p columns of n rows
 * @throws RangeError when there are fewer rows than columns, a column is a sum of others or has another length
 * than `y`, or a value is NaN or infinite
 */
export function leastSquares(columns: readonly Float64Array[], y: Float64Array): LinearFit {
  const n = y.length
  const p = columns.length
  if (n < p) throw new RangeError(`${p} columns need at least ${p} rows, got ${n}`)
  for (const [k, column] of columns.entries()) checkColumn(column, n, `column ${k}`)
  checkColumn(y, n, 'y')
  const a = columns.map((column) => Float64Array.from(column))
  const b = Float64Array.from(y)
  const diagonal = new Float64Array(p)
  for (let k = 0; k < p; k++) {
    const own = a[k]!
    let rest = 0
    for (let i = k; i < n; i++) rest += own[i]! ** 2
    let whole = 0
    for (const value of columns[k]!) whole += value * value
    const length = Math.sqrt(rest)
    if (!(length > RANK_SHARE * Math.sqrt(whole))) {
      throw new RangeError(`column ${k} is a sum of the others, or nothing but zeros`)
    }
    const sign = own[k]! > 0 ? -1 : 1
    diagonal[k] = sign * length
    own[k] = own[k]! - sign * length
    let square = 0
    for (let i = k; i < n; i++) square += own[i]! ** 2
    const reflect = (other: Float64Array): void => {
      let dot = 0
      for (let i = k; i < n; i++) dot += own[i]! * other[i]!
      const factor = (2 * dot) / square
      for (let i = k; i < n; i++) other[i] = other[i]! - factor * own[i]!
    }
    for (let j = k + 1; j < p; j++) reflect(a[j]!)
    reflect(b)
  }
  // R: diagonal, and above it what the reflections left in the columns.
  const solve = (right: Float64Array): Float64Array => {
    const out = new Float64Array(p)
    for (let k = p - 1; k >= 0; k--) {
      let sum = right[k]!
      for (let j = k + 1; j < p; j++) sum -= a[j]![k]! * out[j]!
      out[k] = sum / diagonal[k]!
    }
    return out
  }
  const beta = solve(b)
  const inverseR = Array.from({ length: p }, (_, k) => {
    const unit = new Float64Array(p)
    unit[k] = 1
    return solve(unit)
  })
  const inverse = new Float64Array(p * p)
  for (let i = 0; i < p; i++) {
    for (let j = 0; j < p; j++) {
      let sum = 0
      for (let k = 0; k < p; k++) sum += inverseR[k]![i]! * inverseR[k]![j]!
      inverse[i * p + j] = sum
    }
  }
  const residuals = Float64Array.from(y, (value, i) => {
    let fitted = 0
    for (let k = 0; k < p; k++) fitted += beta[k]! * columns[k]![i]!
    return value - fitted
  })
  let sse = 0
  for (const r of residuals) sse += r * r
  return { beta, inverse, sse, freedom: n - p, residuals }
}

/** As `leastSquares`, but null where the columns cannot be told apart. */
export function tryLeastSquares(
  columns: readonly Float64Array[],
  y: Float64Array,
): LinearFit | null {
  try {
    return leastSquares(columns, y)
  } catch (error) {
    if (error instanceof RangeError) return null
    throw error
  }
}
