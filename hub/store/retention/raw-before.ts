import { DAY } from '../../model/clock.ts'

/**
 * The moment before which raw readings are too old: the start of the UTC day that holds the same day of the month and
 * the same time `months` ago in the garden's zone. Where that month has no such day, its last one (Temporal's
 * `constrain`).
 */
export function rawBefore(now: number, zone: string, months: number): number {
  const then = Temporal.Instant.fromEpochMilliseconds(now)
    .toZonedDateTimeISO(zone)
    .subtract({ months })
  return Math.floor(then.epochMilliseconds / DAY) * DAY
}
