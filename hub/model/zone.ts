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

/** Epoch ms at which the calendar year that holds `at` began in the zone. */
export function yearStart(at: number, zone: string): number {
  const now = Temporal.Instant.fromEpochMilliseconds(Math.floor(at)).toZonedDateTimeISO(zone)
  return now.with({ month: 1, day: 1 }).startOfDay().epochMilliseconds
}
