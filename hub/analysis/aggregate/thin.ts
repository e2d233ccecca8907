import { emptyBuckets, type Buckets } from '../../model/series.ts'
import { median } from '../stats/median.ts'

/**
 * Fewer, wider rows of the same channel: at most about `points`, each with the count, lowest, mean (weighted
 * by count), median of medians and highest of what it gathers. A row's time is the first it holds. What is
 * few already comes back as it is.
 */
export function thin(buckets: Buckets, points: number): Buckets {
  const { time } = buckets
  if (time.length <= points) return buckets
  const first = time[0]!
  const width = Math.max(1, (time.at(-1)! - first) / points)
  const starts: number[] = []
  let cell = -1
  for (let row = 0; row < time.length; row++) {
    const own = Math.floor((time[row]! - first) / width)
    if (own !== cell) starts.push(row)
    cell = own
  }
  const out = emptyBuckets(buckets.step, starts.length)
  starts.forEach((from, i) => {
    const to = starts[i + 1] ?? time.length
    let count = 0
    let sum = 0
    let min = Infinity
    let max = -Infinity
    const medians: number[] = []
    for (let row = from; row < to; row++) {
      const n = buckets.count[row]!
      if (!(n > 0) || Number.isNaN(buckets.mean[row])) continue
      count += n
      sum += n * buckets.mean[row]!
      min = Math.min(min, buckets.min[row]!)
      max = Math.max(max, buckets.max[row]!)
      medians.push(buckets.median[row]!)
    }
    out.time[i] = time[from]!
    out.count[i] = count
    if (count === 0) return
    out.mean[i] = sum / count
    out.min[i] = min
    out.max[i] = max
    out.median[i] = median(medians)
  })
  return out
}
