import { HOUR } from '../../model/clock.ts'
import { type Buckets, emptyBuckets } from '../../model/series.ts'

/**
 * Raw readings of one channel as rows of UTC hours: count, lowest, mean, median, highest. NaN values were tried
 * and failed: they make a row without a count.
 *
 * @param time epoch ms, ascending
 */
export function rollHours(time: Float64Array, value: Float64Array): Buckets {
  const starts: number[] = []
  let hour = NaN
  for (const [row, at] of time.entries()) {
    const own = Math.floor(at / HOUR)
    if (own !== hour) starts.push(row)
    hour = own
  }
  const out = emptyBuckets('hour', starts.length)
  for (const [i, from] of starts.entries()) {
    const to = starts[i + 1] ?? time.length
    const held = value
      .slice(from, to)
      .filter((v) => Number.isFinite(v))
      .toSorted()
    const n = held.length
    out.time[i] = Math.floor(time[from]! / HOUR) * HOUR
    out.count[i] = n
    if (n === 0) continue
    const half = n >> 1
    out.min[i] = held[0]!
    out.max[i] = held[n - 1]!
    out.mean[i] = held.reduce((sum, v) => sum + v, 0) / n
    out.median[i] = n % 2 === 1 ? held[half]! : (held[half - 1]! + held[half]!) / 2
  }
  return out
}
