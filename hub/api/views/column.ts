/** The boundary to JSON: a typed column becomes a list, NaN becomes null, digits end where the sensor does. */
export function toColumn(values: Float64Array, digits = 4): (number | null)[] {
  const scale = 10 ** digits
  return Array.from(values, (v) => (Number.isFinite(v) ? Math.round(v * scale) / scale : null))
}

export const finite = (v: number | null): number | null =>
  v !== null && Number.isFinite(v) ? v : null
