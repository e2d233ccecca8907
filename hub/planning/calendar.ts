/** The garden's calendar day that holds `at`. */
export function dayOf(at: number, zone: string): Temporal.PlainDate {
  return Temporal.Instant.fromEpochMilliseconds(Math.floor(at))
    .toZonedDateTimeISO(zone)
    .toPlainDate()
}

/** First moment of a calendar day, epoch ms; the day may have 23 or 25 hours. */
export function startOf(day: Temporal.PlainDate, zone: string): number {
  return day.toZonedDateTime(zone).epochMilliseconds
}

/** First moment of the calendar day `days` after the one that holds `at`, epoch ms. */
export function daysAfter(at: number, days: number, zone: string): number {
  return startOf(dayOf(at, zone).add({ days: Math.round(days) }), zone)
}

/** The first day that lies wholly at or after `at`. */
export function dayFrom(at: number, zone: string): Temporal.PlainDate {
  const day = dayOf(at, zone)
  return startOf(day, zone) >= at ? day : day.add({ days: 1 })
}

/** A day that comes back every year. */
export interface MonthDay {
  readonly month: number
  readonly day: number
}
