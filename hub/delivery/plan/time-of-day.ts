import type { QuietHours } from '../../model/route.ts'

const zoned = (at: number, zone: string): Temporal.ZonedDateTime =>
  Temporal.Instant.fromEpochMilliseconds(Math.floor(at)).toZonedDateTimeISO(zone)

/**
 * The next time, strictly after `at`, that the clocks of a zone show a time of day 'HH:MM'; epoch ms. An hour that
 * is there twice when summer time ends counts each time; in one that is left out it is the moment after.
 */
export function nextTimeOfDay(at: number, time: string, zone: string): number {
  const wall = Temporal.PlainTime.from(time)
  const today = zoned(at, zone).toPlainDate()
  for (let ahead = 0; ; ahead++) {
    const day = today.add({ days: ahead }).toPlainDateTime(wall)
    for (const disambiguation of ['earlier', 'later'] as const) {
      const shown = day.toZonedDateTime(zone, { disambiguation }).epochMilliseconds
      // 'earlier' lies before a left-out hour: no clock ever shows it, so it is none.
      const skipped = !zoned(shown, zone).toPlainTime().equals(wall)
      if (shown > at && !(skipped && disambiguation === 'earlier')) return shown
    }
  }
}

/** When the quiet hours that hold at `at` end, epoch ms; null outside them. `to` itself is outside. */
export function quietUntil(quiet: QuietHours, at: number, zone: string): number | null {
  const time = zoned(at, zone).toPlainTime().toString({ smallestUnit: 'minute' })
  const { from, to } = quiet
  const inside = from < to ? from <= time && time < to : time >= from || time < to
  return inside ? nextTimeOfDay(at, to, zone) : null
}
