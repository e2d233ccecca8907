/** The finite values, ascending. */
export function sortedFinite(values: Iterable<number>): Float64Array {
  return Float64Array.from(values)
    .filter((value) => Number.isFinite(value))
    .sort()
}

/** Median of the finite values; NaN when there is none. */
export function median(values: Iterable<number>): number {
  const sorted = sortedFinite(values)
  if (sorted.length === 0) return NaN
  const half = sorted.length >> 1
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2
}
