import { BOUNDED } from './placed-by.ts'
import { ABSENT } from './value-column.ts'

/** Start of the UTC bucket that holds `t`, epoch ms; also right before 1970. */
export const startOf = (t: number, width: number): number => Math.floor(t / width) * width

/** What is told of the values of one bucket; `n` counts values, not failures. */
export interface Stats {
  readonly n: number
  readonly low: number
  readonly mean: number
  readonly high: number
  readonly median: number
}

const NONE: Stats = { n: 0, low: NaN, mean: NaN, high: NaN, median: NaN }

/** Statistics of values in any order; puts them in another. None may be NaN. */
export function statsOf(values: Float64Array): Stats {
  const n = values.length
  if (n === 0) return NONE
  let sum = 0
  let low = Infinity
  let high = -Infinity
  for (const value of values) {
    sum += value
    if (value < low) low = value
    if (value > high) high = value
  }
  const half = n >> 1
  const upper = middle(values, half)
  let lower = -Infinity
  // Nothing before the place is greater now.
  if (n % 2 === 0) for (let i = 0; i < half; i++) if (values[i]! > lower) lower = values[i]!
  return { n, low, mean: sum / n, high, median: n % 2 === 1 ? upper : (lower + upper) / 2 }
}

/** After so many rounds of halving, more than chance lets happen, the values are sorted instead. */
const MOST_ROUNDS = 50

/** The value that sorting would put at place `k`: C. A. R. Hoare, Find, Communications of the ACM 4 (1961), 321. */
function middle(values: Float64Array, k: number): number {
  let from = 0
  let to = values.length - 1
  for (let round = 0; from < to; round++) {
    if (round === MOST_ROUNDS) return values.sort()[k]!
    const pivot = values[k]!
    let i = from
    let j = to
    while (i <= j) {
      while (values[i]! < pivot) i++
      while (pivot < values[j]!) j--
      if (i > j) break
      const value = values[i]!
      values[i++] = values[j]!
      values[j--] = value
    }
    if (j < k) from = i
    if (k < i) to = j
  }
  return values[k]!
}

/** The columns of a block that series are made of. */
export interface Columns {
  readonly t: readonly number[]
  readonly placedBy: readonly number[]
}

/** Readings that belong to a series: those of which the channel was heard and the time is more than bounded. */
export function inSeries(columns: Columns, values: readonly number[], i: number): boolean {
  return values[i] !== ABSENT && columns.placedBy[i] !== BOUNDED
}

/** One channel of a part of a day. */
export interface ColumnPart {
  readonly columns: Columns
  readonly values: readonly number[] | null
}

/** What of a channel belongs to its series, all parts of a day; NaN where the sensor failed. */
export function valuesOf(parts: readonly ColumnPart[]): Float64Array {
  let most = 0
  for (const { values } of parts) most += values?.length ?? 0
  const held = new Float64Array(most)
  let n = 0
  for (const { columns, values } of parts) {
    if (values === null) continue
    for (let i = 0; i < values.length; i++) {
      if (inSeries(columns, values, i)) held[n++] = values[i]!
    }
  }
  return held.subarray(0, n)
}

/**
 * Statistics of one channel over all parts of a day; null when no reading of the day belongs to its series.
 */
export function dayStats(parts: readonly ColumnPart[]): Stats | null {
  const held = valuesOf(parts)
  if (held.length === 0) return null
  let n = 0
  for (const value of held) if (!Number.isNaN(value)) held[n++] = value
  return statsOf(held.subarray(0, n))
}
