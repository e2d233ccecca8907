import { checkColumn } from './check-column.ts'
import { median } from './median.ts'
import { normalQuantile } from './normal-quantile.ts'
import { kendallVariance } from './mann-kendall.ts'

export interface TheilSen {
  /** Median of the slopes of all pairs. */
  readonly slope: number
  /** Median of y minus slope times x. */
  readonly intercept: number
  /** Interval of the slope by Sen 1968; too short where neighbours are correlated. */
  readonly low: number
  readonly high: number
}

/**
 * Line by the median of pairwise slopes (Theil 1950, Sen 1968): up to 29 % of the points may be wrong. Pairs with
 * equal x are left out; NaN where no pair is left. O(n^2 log n).
 *
 * @param confidence of the interval. @default 0.95
 * @throws RangeError when a value is NaN or infinite, or the lengths differ
 */
export function theilSen(x: Float64Array, y: Float64Array, confidence = 0.95): TheilSen {
  checkColumn(x, y.length, 'x')
  checkColumn(y, y.length, 'y')
  const slopes: number[] = []
  for (let i = 0; i < x.length; i++) {
    for (let j = i + 1; j < x.length; j++) {
      if (x[i] !== x[j]) slopes.push((y[j]! - y[i]!) / (x[j]! - x[i]!))
    }
  }
  if (slopes.length === 0) return { slope: NaN, intercept: NaN, low: NaN, high: NaN }
  const sorted = Float64Array.from(slopes).sort()
  const slope = median(sorted)
  const reach = normalQuantile((1 + confidence) / 2) * Math.sqrt(kendallVariance(y))
  const n = sorted.length
  const low = Math.max(0, Math.round((n - reach) / 2) - 1)
  const high = Math.min(n - 1, Math.round((n + reach) / 2))
  return {
    slope,
    intercept: median(y) - slope * median(x),
    low: sorted[low]!,
    high: sorted[high]!,
  }
}
