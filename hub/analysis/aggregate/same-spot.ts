/**
 * Columns that count as one voice each: probes that share a spot are averaged first, so that a second probe
 * in a spot does not give it two votes. `values[i]` belongs to spot `spotIds[i]`; NaN is left out.
 */
export function perSpot(
  spotIds: readonly number[],
  values: readonly number[],
): Map<number, number> {
  const sums = new Map<number, { sum: number; n: number }>()
  for (const [i, value] of values.entries()) {
    if (!Number.isFinite(value)) continue
    const of = sums.get(spotIds[i]!) ?? { sum: 0, n: 0 }
    sums.set(spotIds[i]!, { sum: of.sum + value, n: of.n + 1 })
  }
  return new Map(Array.from(sums, ([id, { sum, n }]) => [id, sum / n]))
}
