import { parseLine } from './line-protocol.ts'
import type { Line } from './line-protocol.ts'
import { PRECISIONS } from './import-map.ts'
import type { ImportMap } from './import-map.ts'
import { readNumber } from './read-number.ts'
import { timeReader } from './read-time.ts'
import { partsOf, senmlRows, type SenmlRow } from './senml.ts'
import { NoTable, tableRows } from './table-rows.ts'
import type { TableRow } from './table-rows.ts'
import { LONGEST_LINE, textLines } from './text-lines.ts'
import { say } from '../words/say.ts'

/** A value of a file: its channel by the name it has there. NaN: the sensor was tried and failed. */
export interface RawValue {
  readonly column: string
  readonly value: number
  /** Unit the row itself names; null where it names none. */
  readonly unit: string | null
}

/** A row of a file as the map reads it, before anything is known of the garden. */
export type RawRow =
  | {
      readonly kind: 'row'
      readonly line: number
      readonly at: number
      /** Heading of the time column, for messages. */
      readonly timeColumn: string
      readonly probe: string
      readonly probeColumn: string | null
      /** Empty: nothing was measured. */
      readonly values: readonly RawValue[]
    }
  | {
      readonly kind: 'bad'
      readonly line: number
      readonly column: string | null
      readonly expected: string
      readonly got: string
    }

type Wide = Extract<ImportMap, { layout: 'wide' }>
type Long = Extract<ImportMap, { layout: 'long' }>
type Lines = Extract<ImportMap, { layout: 'lines' }>
type Senml = Extract<ImportMap, { layout: 'senml' }>

/** Reads a file row by row as a map says. A file that breaks off as a table ends with a bad row. */
export async function* readImport(
  source: AsyncIterable<Uint8Array>,
  map: ImportMap,
): AsyncGenerator<RawRow> {
  if (map.layout === 'senml') {
    for await (const row of senmlRows(source)) yield senmlRow(row, map)
    return
  }
  if (map.layout === 'lines') {
    for await (const { line, text, cut } of textLines(source)) {
      if (cut) {
        yield bad(line, null, say`a line of at most ${LONGEST_LINE / 1024} KiB`, text)
        continue
      }
      const parsed = parseLine(text)
      if (parsed !== null) yield lineRow(line, parsed, map)
    }
    return
  }
  try {
    let reader: ((row: TableRow) => RawRow) | undefined
    for await (const row of tableRows(source, map.delimiter)) {
      if (reader === undefined) {
        const made = rowReader(row, map)
        if (typeof made !== 'function') {
          yield made
          return
        }
        reader = made
        if (map.headings) continue
      }
      yield reader(row)
    }
  } catch (error) {
    if (!(error instanceof NoTable)) throw error
    yield bad(error.line, null, say`a table`, error.message.replace(/^expected a table: /, ''))
  }
}

const bad = (
  line: number,
  column: string | null,
  expected: string,
  got: string,
): Extract<RawRow, { kind: 'bad' }> => ({
  kind: 'bad',
  line,
  column,
  expected,
  got: got.length > 80 ? `${got.slice(0, 79)}…` : got,
})

/** A column by its heading, or by its place as '#3'; -1 when there is none. */
export function columnIndex(headings: readonly string[], name: string): number {
  const index = headings.indexOf(name)
  if (index >= 0) return index
  const place = /^#([1-9]\d{0,2})$/.exec(name)
  return place === null ? -1 : Number(place[1]) - 1
}

function rowReader(
  first: TableRow,
  map: Wide | Long,
): ((row: TableRow) => RawRow) | Extract<RawRow, { kind: 'bad' }> {
  const headings = map.headings ? first.cells : []
  const probeColumn = 'column' in map.probe ? map.probe.column : null
  const needed = [
    map.time.column,
    ...(probeColumn === null ? [] : [probeColumn]),
    ...(map.layout === 'wide'
      ? map.channels.map(({ column }) => column)
      : [map.channelColumn, map.valueColumn, ...(map.unitColumn === null ? [] : [map.unitColumn])]),
  ]
  const indexOf = new Map(needed.map((name) => [name, columnIndex(headings, name)]))
  const missing = needed.find((name) => indexOf.get(name) === -1)
  if (missing !== undefined) {
    return bad(first.line, missing, say`a column '${missing}'`, headings.join(', '))
  }
  const cell = (row: TableRow, name: string): string => row.cells[indexOf.get(name) ?? -1] ?? ''
  const time = timeReader(map.time.format, map.time.zone)
  const expectedNumber = say`a number with '${map.decimal}' before its fraction`
  /** By probe, the time of the row before. */
  const before = new Map<string, number>()

  return (row) => {
    const { line } = row
    const probe = 'id' in map.probe ? map.probe.id : cell(row, map.probe.column)
    const timeText = cell(row, map.time.column)
    const at = time.read(timeText, before.get(probe) ?? -Infinity)
    if (Number.isNaN(at)) return bad(line, map.time.column, time.expected, timeText)
    const values: RawValue[] = []
    if (map.layout === 'wide') {
      for (const { column } of map.channels) {
        const value = readNumber(cell(row, column), map.decimal)
        if (value === undefined) return bad(line, column, expectedNumber, cell(row, column))
        if (value !== null) values.push({ column, value, unit: null })
      }
      // A long table has a row for each channel of a moment: only the next moment has passed this one.
      if (values.length > 0) before.set(probe, at)
    } else {
      const text = cell(row, map.valueColumn)
      const value = readNumber(text, map.decimal)
      if (value === undefined) return bad(line, map.valueColumn, expectedNumber, text)
      values.push({
        column: cell(row, map.channelColumn),
        value: value ?? NaN,
        unit: map.unitColumn === null ? null : cell(row, map.unitColumn),
      })
      before.set(probe, at - 1)
    }
    return { kind: 'row', line, at, timeColumn: map.time.column, probe, probeColumn, values }
  }
}

/** All records may stand in one line: messages count them. */
function senmlRow(row: SenmlRow, map: Senml): RawRow {
  const { line, number } = row
  const place = (label: string | null): string =>
    label === null ? say`record ${number}` : `${say`record ${number}`}, ${label}`
  if ('problem' in row) {
    const { label, expected, got } = row.problem
    return bad(line, place(label), expected, got)
  }
  const { name, unit, at, value } = row.measured
  const parts = partsOf(name)
  const probe = 'id' in map.probe ? map.probe.id : parts.probe
  const values = [{ column: parts.channel, value, unit }]
  return { kind: 'row', line, at, timeColumn: place('t'), probe, probeColumn: place('n'), values }
}

function lineRow(
  line: number,
  parsed: Line | { expected: string; got: string },
  map: Lines,
): RawRow {
  if ('expected' in parsed) return bad(line, null, parsed.expected, parsed.got)
  if (parsed.timestamp === null) {
    return bad(line, null, say`a time at the end of the line`, parsed.measurement)
  }
  const probeColumn = 'column' in map.probe ? map.probe.column : null
  const tag = parsed.tags.find(([key]) => key === probeColumn)?.[1]
  const probe = 'id' in map.probe ? map.probe.id : tag
  if (probe === undefined) {
    const tags = parsed.tags.map(([key]) => key).join(', ') || say`no tag`
    return bad(line, probeColumn, say`a tag '${probeColumn ?? ''}' with the id of a probe`, tags)
  }
  const values: RawValue[] = []
  for (const [column, field] of parsed.fields) {
    if (field.kind === 'boolean' || field.kind === 'string') {
      return bad(line, column, say`a number`, String(field.value))
    }
    const value = Number(field.value)
    if (field.kind !== 'float' && BigInt(value) !== field.value) {
      return bad(line, column, say`a whole number of at most 2^53`, String(field.value))
    }
    values.push({ column, value, unit: null })
  }
  const at = Number((parsed.timestamp * PRECISIONS[map.precision]) / 1_000_000n)
  return { kind: 'row', line, at, timeColumn: 'time', probe, probeColumn, values }
}
