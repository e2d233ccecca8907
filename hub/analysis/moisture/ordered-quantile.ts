/** Quantile of ascending values with linear interpolation between neighbours; NaN when there is none. */
export function orderedQuantile(sorted: ArrayLike<number>, p: number): number {
  if (sorted.length === 0) return NaN
  const place = p * (sorted.length - 1)
  const low = Math.floor(place)
  const high = Math.min(sorted.length - 1, low + 1)
  return sorted[low]! + (place - low) * (sorted[high]! - sorted[low]!)
}
