import { whiten } from './ar-regression.ts'
import { leastSquares } from './least-squares.ts'

/** One choice of the non-linear parameters, and the columns they make. */
export interface SeparableNode {
  readonly theta: readonly number[]
  /** One column per amplitude. */
  readonly columns: readonly Float64Array[]
}

export interface NodeFit {
  /** Amplitudes of the node's own columns; NaN where the columns cannot be told from the shared ones. */
  readonly amplitude: Float64Array
  /** Row-major (C'C)^-1 of the node's columns after the shared ones were taken out. */
  readonly inverse: Float64Array
  /** Residual sum of squares with the shared columns fitted too. */
  readonly sse: number
}

export interface SeparableFit {
  readonly fits: readonly NodeFit[]
  /** Index of the node with the least sum of squares. */
  readonly best: number
}

/** What is left of a column must be more than this share of it to say anything. */
const LEAST_LEFT = 1e-9

/**
 * Least squares of models that are linear but for a few parameters: y = shared columns + amplitudes times columns
 * that depend on theta (variable projection, Golub and Pereyra 1973, on a grid). The shared columns are taken
 * out once, so that a node costs O(n).
 *
 * @param whitening errors that follow each other: whole steps and their correlation
 */
export function separableFit(
  shared: readonly Float64Array[],
  nodes: readonly SeparableNode[],
  y: Float64Array,
  whitening: { readonly step: Float64Array; readonly rho: number } | null = null,
): SeparableFit {
  const white = (column: Float64Array): Float64Array =>
    whitening === null || whitening.rho === 0
      ? Float64Array.from(column)
      : whiten(column, whitening.step, whitening.rho)
  const basis = orthonormal(shared.map(white))
  const left = white(y)
  takeOut(left, basis)
  const leftSquare = dot(left, left)
  const fits = nodes.map(({ columns }): NodeFit => {
    const own = columns.map((column) => {
      const whole = white(column)
      const square = dot(whole, whole)
      takeOut(whole, basis)
      return dot(whole, whole) > LEAST_LEFT * square ? whole : null
    })
    const known = own.flatMap((column) => column ?? [])
    const k = own.length
    const none = (): NodeFit => ({
      amplitude: new Float64Array(k).fill(NaN),
      inverse: new Float64Array(k * k).fill(NaN),
      sse: leftSquare,
    })
    if (known.length < k) return none()
    if (k === 1) {
      const square = dot(known[0]!, known[0]!)
      const amplitude = dot(known[0]!, left) / square
      return {
        amplitude: Float64Array.of(amplitude),
        inverse: Float64Array.of(1 / square),
        sse: leftSquare - amplitude * amplitude * square,
      }
    }
    try {
      const { beta, inverse, sse } = leastSquares(known, left)
      return { amplitude: beta, inverse, sse }
    } catch (error) {
      if (error instanceof RangeError) return none()
      throw error
    }
  })
  let best = 0
  for (const [i, { sse }] of fits.entries()) if (sse < fits[best]!.sse) best = i
  return { fits, best }
}

const MOST_STEPS = 200
const MOST_HALVINGS = 40

/**
 * Goes on from a node to the very minimum: Gauss-Newton over all parameters, amplitudes included, steps halved
 * while they do not help. `model` gives the columns of a theta; NaN in one means that theta is not allowed.
 */
export function refineSeparable(
  model: (theta: readonly number[]) => readonly Float64Array[],
  start: readonly number[],
  y: Float64Array,
): { theta: number[]; amplitude: Float64Array; sse: number; inverse: Float64Array } {
  let theta = [...start]
  let columns = model(theta)
  let fit = leastSquares(columns, y)
  let inverse = fit.inverse
  for (let step = 0; step < MOST_STEPS; step++) {
    const slopes = theta.map((value, k) => {
      const h = 1e-6 * Math.max(Math.abs(value), 1e-6)
      const at = (shift: number): Float64Array => {
        const moved = model(theta.map((v, j) => (j === k ? v + shift : v)))
        return Float64Array.from(y, (_, i) =>
          moved.reduce((sum, column, c) => sum + fit.beta[c]! * column[i]!, 0),
        )
      }
      const above = at(h)
      const below = at(-h)
      return above.map((value2, i) => (value2 - below[i]!) / (2 * h))
    })
    const joint = leastSquares([...slopes, ...columns], fit.residuals)
    inverse = joint.inverse
    let share = 1
    let better = false
    for (let halving = 0; halving < MOST_HALVINGS; halving++) {
      const next = theta.map((value, k) => value + share * joint.beta[k]!)
      const nextColumns = model(next)
      if (nextColumns.every((column) => column.every((v) => Number.isFinite(v)))) {
        const nextFit = leastSquares(nextColumns, y)
        if (nextFit.sse < fit.sse) {
          theta = next
          columns = nextColumns
          fit = nextFit
          better = true
          break
        }
      }
      share /= 2
    }
    if (!better) break
  }
  return { theta, amplitude: fit.beta, sse: fit.sse, inverse }
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!
  return sum
}

function takeOut(column: Float64Array, basis: readonly Float64Array[]): void {
  // Twice: once is not enough when little is left.
  for (let pass = 0; pass < 2; pass++) {
    for (const unit of basis) {
      const share = dot(column, unit)
      for (let i = 0; i < column.length; i++) column[i] = column[i]! - share * unit[i]!
    }
  }
}

function orthonormal(columns: readonly Float64Array[]): Float64Array[] {
  const basis: Float64Array[] = []
  for (const column of columns) {
    const whole = Math.sqrt(dot(column, column))
    takeOut(column, basis)
    const length = Math.sqrt(dot(column, column))
    if (length > LEAST_LEFT * whole) basis.push(column.map((value) => value / length))
  }
  return basis
}
