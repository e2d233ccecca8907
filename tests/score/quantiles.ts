/** Quantile of values in any order, linear between neighbours (type 7 of Hyndman and Fan 1996); NaN of none. */
export function quantileOf(values: readonly number[], p: number): number {
  const sorted = Float64Array.from(values.filter((value) => !Number.isNaN(value))).sort()
  if (sorted.length === 0) return NaN
  const at = (sorted.length - 1) * p
  const low = Math.floor(at)
  const high = Math.min(low + 1, sorted.length - 1)
  return sorted[low]! + (at - low) * (sorted[high]! - sorted[low]!)
}

/** Share of true values; NaN of none. */
export function shareOf(values: readonly boolean[]): number {
  return values.length === 0 ? NaN : values.filter(Boolean).length / values.length
}
