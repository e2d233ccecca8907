/** True when the runtime knows this IANA time zone. A bare offset is none: it has no summer time. */
export function isZone(zone: string): boolean {
  if (/^[+-]/.test(zone)) return false
  try {
    new Intl.DateTimeFormat('en', { timeZone: zone })
    return true
  } catch {
    return false
  }
}
