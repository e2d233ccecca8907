import { stringify } from 'csv-stringify/sync'

export const CSV_TYPE = 'text/csv; charset=utf-8'

/**
 * A table as RFC 4180 CSV with a byte-order mark, so that spreadsheets read it as UTF-8. A cell that a spreadsheet
 * would take for a formula is marked as text.
 */
export function csvTable(
  columns: readonly string[],
  rows: readonly (readonly (string | number | null)[])[],
): string {
  return stringify([columns, ...rows], {
    bom: true,
    record_delimiter: 'windows',
    escape_formulas: true,
  })
}

/** A moment as ISO 8601 in the garden's zone, with its offset. */
export function zonedTime(at: number, zone: string): string {
  return Temporal.Instant.fromEpochMilliseconds(Math.round(at))
    .toZonedDateTimeISO(zone)
    .toString({ timeZoneName: 'never', smallestUnit: 'minute' })
}

/** A day of the garden's calendar, ISO 8601. */
export function zonedDay(at: number, zone: string): string {
  return Temporal.Instant.fromEpochMilliseconds(Math.round(at))
    .toZonedDateTimeISO(zone)
    .toPlainDate()
    .toString()
}
