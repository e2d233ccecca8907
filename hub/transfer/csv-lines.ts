import { stringify } from 'csv-stringify/sync'

export type Cell = string | number | null

/**
 * Rows as RFC 4180 CSV. A text that a spreadsheet would take for a formula is marked as text; numbers are not.
 *
 * @param first whether the file begins here: with a byte-order mark, so that spreadsheets read it as UTF-8
 */
export function csvLines(rows: readonly (readonly Cell[])[], first = false): string {
  return stringify(rows as Cell[][], {
    bom: first,
    record_delimiter: 'windows',
    escape_formulas: true,
  })
}
