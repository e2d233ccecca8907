/** What an hour or a day shows of the values in it. */
export interface RolledUp {
  readonly count: number
  readonly min: number
  readonly mean: number
  readonly max: number
  readonly median: number
}

/**
 * Count, least, mean, most and median of values in the order of time, failures (NaN) left out; NaN where there is
 * none. Summed and halved in the order in which InfluxDB does it, so that a bucket is the same to the last digit
 * once everything in it has been delivered.
 */
export function rollUpOf(values: readonly number[]): RolledUp {
  const known = values.filter((value) => !Number.isNaN(value))
  const count = known.length
  if (count === 0) return { count, min: NaN, mean: NaN, max: NaN, median: NaN }
  const sorted = Float64Array.from(known).sort()
  const half = count >> 1
  const [low, high] = [sorted[half - 1] ?? NaN, sorted[half]!]
  return {
    count,
    min: sorted[0]!,
    mean: known.reduce((sum, value) => sum + value, 0) / count,
    max: sorted[count - 1]!,
    median: count % 2 === 1 ? high : low + (high - low) / 2,
  }
}
