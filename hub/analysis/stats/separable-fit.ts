import { fQuantile } from './f-quantile.ts'
import { tryLeastSquares } from './least-squares.ts'
import { dot, orthonormal, takeOut } from './take-out.ts'
import { whitener } from './whitener.ts'

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
  /** A node with at most this sum of squares is one the data allow, with `confidence`. */
  readonly limit: number
}

export interface SeparableOptions {
  /** Errors that follow each other: whole steps and their correlation. @default null */
  readonly whitening?: { readonly step: Float64Array; readonly rho: number } | null
  /** @default 0.95 */
  readonly confidence?: number
}

/** What is left of a column must be more than this share of its length to say anything. */
const LEAST_LEFT = 1e-8

/**
 * Least squares of models that are linear but for a few parameters: y = shared columns + amplitudes times columns
 * that depend on theta (variable projection, Golub and Pereyra 1973, on a grid). The shared columns are taken
 * out once, so that a node of one column costs O(n). `limit` is the profile region of one parameter,
 * least sse (1 + F(confidence; 1, n - p) / (n - p)) (Seber and Wild, Nonlinear Regression, 1989, from memory).
 *
 * @throws RangeError when there is no node or there are not more rows than parameters
 */
export function separableFit(
  shared: readonly Float64Array[],
  nodes: readonly SeparableNode[],
  y: Float64Array,
  { whitening = null, confidence = 0.95 }: SeparableOptions = {},
): SeparableFit {
  const first = nodes[0]
  if (first === undefined) throw new RangeError('at least one node is needed, got none')
  const parameters = shared.length + first.columns.length + first.theta.length
  const freedom = y.length - parameters
  if (freedom < 1) {
    throw new RangeError(`${parameters} parameters need more rows than that, got ${y.length}`)
  }
  const white =
    whitening === null
      ? (column: Float64Array): Float64Array => column.slice()
      : whitener(whitening.step, whitening.rho)
  const basis = orthonormal(shared.map(white), LEAST_LEFT)
  const left = white(y)
  takeOut(left, basis)
  const fits = nodes.map(({ columns }) => fitNode(columns.map(white), basis, left))
  let best = 0
  for (const [i, { sse }] of fits.entries()) if (sse < fits[best]!.sse) best = i
  const limit = fits[best]!.sse * (1 + fQuantile(confidence, 1, freedom) / freedom)
  return { fits, best, limit }
}

/** @param own whitened columns of the node; changed in place */
function fitNode(
  own: readonly Float64Array[],
  basis: readonly Float64Array[],
  left: Float64Array,
): NodeFit {
  const k = own.length
  const told = own.every((column) => {
    const whole = dot(column, column)
    return takeOut(column, basis) > LEAST_LEFT ** 2 * whole
  })
  const [only] = own
  if (told && k === 1 && only !== undefined) {
    const square = dot(only, only)
    const amplitude = dot(only, left) / square
    let sse = 0
    for (let i = 0; i < left.length; i++) sse += (left[i]! - amplitude * only[i]!) ** 2
    return { amplitude: Float64Array.of(amplitude), inverse: Float64Array.of(1 / square), sse }
  }
  const fit = told ? tryLeastSquares(own, left) : null
  if (fit !== null) return { amplitude: fit.beta, inverse: fit.inverse, sse: fit.sse }
  return {
    amplitude: new Float64Array(k).fill(NaN),
    inverse: new Float64Array(k * k).fill(NaN),
    sse: dot(left, left),
  }
}
