import { Readable } from 'node:stream'
import { CsvError, parse } from 'csv-parse'
import type { Delimiter } from './import-map.ts'

/** A row of a table, with the line of the file on which it ends, from 1. */
export interface TableRow {
  readonly line: number
  readonly cells: readonly string[]
}

/** A file that is no table, and where that shows. */
export class NoTable extends Error {
  override readonly name = 'NoTable'
  readonly line: number

  constructor(message: string, line: number, cause?: unknown) {
    super(message, { cause })
    this.line = line
  }
}

/** A longer row is a quote that was never closed. */
const LONGEST_ROW = 64 * 1024

/**
 * Rows of RFC 4180 CSV (UTF-8, or UTF-16 with its mark) as the bytes come; empty lines are left out. Cells are trimmed.
 *
 * @throws NoTable
 */
export async function* tableRows(
  source: AsyncIterable<Uint8Array>,
  delimiter: Delimiter,
): AsyncGenerator<TableRow> {
  const parser = parse({
    bom: true,
    delimiter,
    info: true,
    max_record_size: LONGEST_ROW,
    relax_column_count: true,
    skip_empty_lines: true,
    trim: true,
  })
  const input = Readable.from(source, { objectMode: false })
  input.on('error', (error) => parser.destroy(error))
  input.pipe(parser)
  try {
    for await (const { record, info } of parser as AsyncIterable<{
      record: string[]
      info: { lines: number }
    }>) {
      if (record.some((cell) => cell.includes('\0'))) {
        throw new NoTable('expected text, got a file with zero bytes', info.lines)
      }
      yield { line: info.lines, cells: record }
    }
  } catch (error) {
    if (!(error instanceof CsvError)) throw error
    const { lines } = error as unknown as { lines?: number }
    throw new NoTable(`expected a table: ${error.message}`, lines ?? 0, error)
  } finally {
    input.destroy()
    parser.destroy()
  }
}
