import type { Buckets } from '../../model/series.ts'

/** Columns in ascending time, each time once (the later row wins) and no row without a time. */
export function inOrder(buckets: Buckets): Buckets {
  const { time } = buckets
  let ordered = true
  for (let i = 0; i < time.length && ordered; i++) {
    ordered = i === 0 ? !Number.isNaN(time[0]) : time[i]! > time[i - 1]!
  }
  if (ordered) return buckets
  const rows = Array.from(time.keys())
    .filter((row) => Number.isFinite(time[row]))
    .toSorted((a, b) => time[a]! - time[b]! || a - b)
  const kept = rows.filter((row, i) => i === rows.length - 1 || time[row] !== time[rows[i + 1]!])
  const pick = (column: Float64Array): Float64Array =>
    Float64Array.from(kept, (row) => column[row]!)
  return {
    step: buckets.step,
    time: pick(time),
    count: pick(buckets.count),
    min: pick(buckets.min),
    mean: pick(buckets.mean),
    max: pick(buckets.max),
    median: pick(buckets.median),
  }
}
