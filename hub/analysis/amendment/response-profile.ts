import { DAY } from '../../model/clock.ts'
import { leastSquares } from '../stats/least-squares.ts'
import { whitener } from '../stats/whitener.ts'
import type { ResponseGrid } from './response-grid.ts'
import type { WeeklySeries } from '../aggregate/weekly-medians.ts'

export interface ResponseProfile {
  /** Residual sum of squares at each course of the grid; Infinity where the data cannot tell it. */
  readonly sse: Float64Array
  /** Index of the least. */
  readonly best: number
  /** Without any response. */
  readonly sseNone: number
  /** Amplitudes of the doses at a course, and the diagonal of their inverse normal matrix. */
  amplitudes(index: number): { readonly amplitude: Float64Array; readonly inverse: Float64Array }
}

/** What is left of a column after level and season must be more than this share of it. */
const LEAST_LEFT = 1e-7

/**
 * Sum of squares of level (and season) plus one response for each dose, over a grid of courses. A course is the
 * difference of two exponentials, so whitening and taking out the shared columns is done once for each
 * exponential, not for each of the thousands of courses; what is left for those are scalar products. This is
 * `separableFit` for this one family, about thirty times as fast.
 *
 * @param shared columns for level and season
 * @param doses epoch ms
 * @param rho correlation of neighbouring weeks
 */
export function responseProfile(
  weekly: WeeklySeries,
  shared: readonly Float64Array[],
  doses: readonly number[],
  grid: ResponseGrid,
  rho: number,
): ResponseProfile {
  const clean = cleaner(weekly.step, shared, rho)
  const left = clean(weekly.value)
  const sseNone = dot(left, left)
  const k = doses.length
  const { lags, rises, returns, shapes } = grid
  const perLag = rises.length * returns.length
  const exponentials = decays(weekly, clean)
  const tables = lags.map((lag) => ({
    rises: rises.map((half) => doses.map((dose) => exponentials(dose, lag, half))),
    returns: returns.map((half) => doses.map((dose) => exponentials(dose, lag, half))),
  }))
  const solve = (index: number): Solved | null => {
    const shape = shapes[index]
    if (shape === null || shape === undefined) return null
    const table = tables[Math.floor(index / perLag)]!
    const rising = table.rises[Math.floor((index % perLag) / returns.length)]!
    const returning = table.returns[index % returns.length]!
    const normal = new Float64Array(k * k)
    const right = new Float64Array(k)
    const scale = 1 / shape.rawPeak
    for (let i = 0; i < k; i++) {
      const a = returning[i]!
      const b = rising[i]!
      right[i] = scale * (a.onData(left) - b.onData(left))
      for (let j = i; j < k; j++) {
        const c = returning[j]!
        const d = rising[j]!
        let sum = 0
        for (let w = 0; w < left.length; w++) {
          sum += (a.clean[w]! - b.clean[w]!) * (c.clean[w]! - d.clean[w]!)
        }
        normal[i * k + j] = normal[j * k + i] = scale * scale * sum
      }
      const whole = scale * scale * (a.square + b.square)
      if (!(normal[i * k + i]! > LEAST_LEFT * whole)) return null
    }
    return solveNormal(normal, right, k)
  }
  const sse = new Float64Array(shapes.length).fill(Infinity)
  let best = 0
  for (let index = 0; index < sse.length; index++) {
    const solved = solve(index)
    if (solved === null) continue
    sse[index] = Math.max(0, sseNone - solved.explained)
    if (sse[index]! < sse[best]!) best = index
  }
  return {
    sse,
    best,
    sseNone,
    amplitudes(index) {
      const solved = solve(index)
      if (solved === null) throw new Error(`course ${index} cannot be told from the data`)
      return { amplitude: solved.amplitude, inverse: solved.inverse }
    },
  }
}

interface Decay {
  /** Whitened, shared columns taken out. */
  readonly clean: Float64Array
  readonly square: number
  onData(left: Float64Array): number
}

/** Columns exp(-k (t - dose - lag)) from the lag on, cleaned; each is made once. */
function decays(
  { step, time }: WeeklySeries,
  clean: (column: Float64Array) => Float64Array,
): (dose: number, lagDays: number, halfDays: number) => Decay {
  const weeks = step.length === 0 ? 0 : step.at(-1)! - step[0]! + 1
  const tables = new Map<number, Float64Array>()
  return (dose, lagDays, halfDays) => {
    let table = tables.get(halfDays)
    if (table === undefined) {
      table = Float64Array.from({ length: weeks }, (_, i) => 2 ** ((-7 * i) / halfDays))
      tables.set(halfDays, table)
    }
    const column = new Float64Array(time.length)
    const onset = dose + lagDays * DAY
    let from = 0
    while (from < time.length && time[from]! <= onset) from++
    const first = from < time.length ? 2 ** (-(time[from]! - onset) / DAY / halfDays) : 0
    for (let i = from; i < column.length; i++) {
      column[i] = first * table[step[i]! - step[from]!]!
    }
    const cleaned = clean(column)
    let known = NaN
    return {
      clean: cleaned,
      square: dot(column, column),
      onData(left) {
        if (Number.isNaN(known)) known = dot(cleaned, left)
        return known
      },
    }
  }
}

/** Frees columns of first-order correlation and of what the shared columns can explain. */
function cleaner(
  step: Float64Array,
  shared: readonly Float64Array[],
  rho: number,
): (column: Float64Array) => Float64Array {
  const white = whitener(step, rho)
  const known = shared.map(white)
  const { inverse } = leastSquares(known, new Float64Array(step.length))
  const p = known.length
  return (column) => {
    const out = white(column)
    const onto = known.map((one) => dot(one, out))
    for (const [i, one] of known.entries()) {
      let share = 0
      for (let j = 0; j < p; j++) share += inverse[i * p + j]! * onto[j]!
      for (let w = 0; w < out.length; w++) out[w] = out[w]! - share * one[w]!
    }
    return out
  }
}

interface Solved {
  readonly amplitude: Float64Array
  readonly inverse: Float64Array
  /** By how much the sum of squares falls. */
  readonly explained: number
}

/** Solves a small symmetric system by Cholesky; null where two doses cannot be told apart. */
function solveNormal(normal: Float64Array, right: Float64Array, k: number): Solved | null {
  const root = new Float64Array(k * k)
  for (let i = 0; i < k; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = normal[i * k + j]!
      for (let m = 0; m < j; m++) sum -= root[i * k + m]! * root[j * k + m]!
      if (i !== j) root[i * k + j] = sum / root[j * k + j]!
      else if (sum > LEAST_LEFT * normal[i * k + i]!) root[i * k + i] = Math.sqrt(sum)
      else return null
    }
  }
  // Inverse of the root by forward substitution; its columns give everything else.
  const inverse = new Float64Array(k)
  const amplitude = new Float64Array(k)
  let explained = 0
  const inverseRoot = new Float64Array(k * k)
  for (let j = 0; j < k; j++) {
    for (let i = j; i < k; i++) {
      let sum = i === j ? 1 : 0
      for (let m = j; m < i; m++) sum -= root[i * k + m]! * inverseRoot[m * k + j]!
      inverseRoot[i * k + j] = sum / root[i * k + i]!
    }
  }
  for (let i = 0; i < k; i++) {
    let turned = 0
    for (let j = 0; j <= i; j++) turned += inverseRoot[i * k + j]! * right[j]!
    explained += turned * turned
    for (let j = 0; j <= i; j++) {
      amplitude[j] = amplitude[j]! + inverseRoot[i * k + j]! * turned
      inverse[j] = inverse[j]! + inverseRoot[i * k + j]! ** 2
    }
  }
  return { amplitude, inverse, explained }
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!
  return sum
}
