/**
 * Quantile of an ascending column by linear interpolation between order statistics (type 7 of Hyndman and Fan,
 * The American Statistician 50, 1996). NaN for an empty column.
 */
export function quantile(sorted: ArrayLike<number>, p: number): number {
  const n = sorted.length
  if (n === 0) return NaN
  const h = (n - 1) * p
  const below = Math.floor(h)
  const low = sorted[below]!
  const high = sorted[Math.min(n - 1, below + 1)]!
  return low + (h - below) * (high - low)
}
