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

/** Statistics of values in any order; sorts them in place. */
export function statsOf(values: Float64Array): Stats {
  const n = values.length
  if (n === 0) return NONE
  let sum = 0
  for (const value of values) sum += value
  values.sort()
  const half = n >> 1
  const upper = values[half]!
  return {
    n,
    low: values[0]!,
    mean: sum / n,
    high: values[n - 1]!,
    median: n % 2 === 1 ? upper : (values[half - 1]! + upper) / 2,
  }
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
export function valuesOf(parts: readonly ColumnPart[]): number[] {
  const held: number[] = []
  for (const { columns, values } of parts) {
    if (values === null) continue
    for (let i = 0; i < values.length; i++) {
      if (inSeries(columns, values, i)) held.push(values[i]!)
    }
  }
  return held
}

/**
 * Statistics of one channel over all parts of a day; null when no reading of the day belongs to its series.
 */
export function dayStats(parts: readonly ColumnPart[]): Stats | null {
  const held = valuesOf(parts)
  if (held.length === 0) return null
  const values = new Float64Array(held.length)
  let n = 0
  for (const value of held) if (!Number.isNaN(value)) values[n++] = value
  return statsOf(values.subarray(0, n))
}
