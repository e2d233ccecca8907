/** Running sums of a two-sided tabular CUSUM, with the step at which each last left zero. */
export interface Cusum {
  above: number
  below: number
  aboveSince: number
  belowSince: number
}

export function startCusum(): Cusum {
  return { above: 0, below: 0, aboveSince: 0, belowSince: 0 }
}

/**
 * Takes in one residual (cumulative sum chart of Page 1954, tabular form): each sum grows by what the residual
 * exceeds the reference value `reference`, and never falls below zero. Answers +1 or -1 when a sum exceeds
 * `limit`, else 0. The sums are changed in place; after a signal the caller decides what becomes of them.
 *
 * A NaN residual says nothing: the sums stay as they are.
 *
 * @param at anything ascending: becomes the onset when a sum leaves zero
 * @param clip residuals beyond this count as this, so that one wild value is no alarm by itself
 */
export function cusumStep(
  sums: Cusum,
  residual: number,
  at: number,
  chart: { readonly reference: number; readonly limit: number; readonly clip?: number },
): -1 | 0 | 1 {
  if (Number.isNaN(residual)) return 0
  const clip = chart.clip ?? Infinity
  const r = Math.max(-clip, Math.min(clip, residual))
  if (sums.above === 0) sums.aboveSince = at
  if (sums.below === 0) sums.belowSince = at
  sums.above = Math.max(0, sums.above + r - chart.reference)
  sums.below = Math.max(0, sums.below - r - chart.reference)
  if (sums.above > chart.limit) return 1
  if (sums.below > chart.limit) return -1
  return 0
}
