import { type LinearFit, leastSquares, tryLeastSquares } from './least-squares.ts'

/** Columns that a choice of the non-linear parameters makes; a NaN in one means that theta is not allowed. */
export type SeparableModel = (theta: readonly number[]) => readonly Float64Array[]

export interface Refined {
  readonly theta: number[]
  /** One per column of the model. */
  readonly amplitude: Float64Array
  readonly sse: number
  /** Row-major (J'J)^-1 of all parameters, thetas first: times sse / (n - p) it is their covariance. */
  readonly inverse: Float64Array
}

const MOST_STEPS = 200
const MOST_HALVINGS = 40
/** Below this, relative to theta, the sum of squares is flat: steps go on while they shrink. */
const SMALL_STEP = 1e-6
const LAST_STEP = 1e-12
/** By this share rounding alone may raise the sum of squares at the bottom. */
const ROUNDING = 1e-11

/**
 * Goes on from a grid node to the very minimum: Gauss-Newton over all parameters, amplitudes included
 * (Golub and Pereyra 1973), steps halved while they do not help.
 *
 * @param model all columns, shared ones included
 * @throws RangeError when theta or the amplitudes cannot be told apart, as `leastSquares`
 */
export function refineSeparable(
  model: SeparableModel,
  start: readonly number[],
  y: Float64Array,
): Refined {
  const columns = model(start)
  let at: Place = { theta: [...start], columns, fit: leastSquares(columns, y) }
  let before = Infinity
  for (let step = 0; step < MOST_STEPS; step++) {
    const joint = leastSquares([...slopes(model, at, y.length), ...at.columns], at.fit.residuals)
    const size = Math.max(...at.theta.map((v, k) => Math.abs(joint.beta[k]! / (v || 1))))
    if (size < SMALL_STEP && size >= before) break
    const next = downhill(model, at, joint.beta, y, size < SMALL_STEP ? ROUNDING : 0)
    if (next === null) break
    at = next
    before = size
    if (size < LAST_STEP) break
  }
  const { inverse } = leastSquares([...slopes(model, at, y.length), ...at.columns], y)
  return { theta: at.theta, amplitude: at.fit.beta, sse: at.fit.sse, inverse }
}

interface Place {
  readonly theta: number[]
  readonly columns: readonly Float64Array[]
  readonly fit: LinearFit
}

/** The first place along the step, halved again and again, that fits better; null when there is none. */
function downhill(
  model: SeparableModel,
  from: Place,
  step: Float64Array,
  y: Float64Array,
  slack: number,
): Place | null {
  let share = 1
  for (let halving = 0; halving < MOST_HALVINGS; halving++) {
    const theta = from.theta.map((value, k) => value + share * step[k]!)
    const columns = model(theta)
    const fit = tryLeastSquares(columns, y)
    if (fit !== null && fit.sse < from.fit.sse * (1 + slack)) return { theta, columns, fit }
    share /= 2
  }
  return null
}

/** Derivatives of the fitted values by each theta, central differences. */
function slopes(model: SeparableModel, { theta, fit }: Place, rows: number): Float64Array[] {
  return theta.map((value, k) => {
    const h = 1e-5 * Math.max(Math.abs(value), 1e-6)
    const fitted = (shift: number): Float64Array => {
      const sum = new Float64Array(rows)
      const columns = model(theta.map((v, j) => (j === k ? v + shift : v)))
      for (const [c, column] of columns.entries()) {
        for (let i = 0; i < rows; i++) sum[i] = sum[i]! + fit.beta[c]! * column[i]!
      }
      return sum
    }
    const above = fitted(h)
    const below = fitted(-h)
    return above.map((high, i) => (high - below[i]!) / (2 * h))
  })
}
