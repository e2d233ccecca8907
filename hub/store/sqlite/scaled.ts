const SCALE = 10_000

/**
 * How a value stands in the database: whole ten-thousandths when that is exact (small on disk, and sums
 * are exact), otherwise the value itself as REAL; null for NaN. What is read back equals what was sent.
 * BigInt, because the binding turns every number into REAL.
 */
export function toStored(value: number): bigint | number | null {
  if (Number.isNaN(value)) return null
  const scaled = Math.round(value * SCALE)
  const exact = Math.abs(scaled) <= Number.MAX_SAFE_INTEGER && scaled / SCALE === value
  return exact ? BigInt(scaled) : value
}

/** SQL for the value behind a stored column; NULL stays NULL. */
export const valueOf = (column: string): string =>
  `iif(typeof(${column}) = 'integer', ${column} / ${SCALE}.0, ${column})`
