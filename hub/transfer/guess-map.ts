import { guessChannel } from '../wire/channels.ts'
import { CHANNEL_NAME, PROBE_ID, RESERVED_IDS } from '../wire/topic.ts'
import { DELIMITERS } from './import-map.ts'
import type { ChannelMap, Delimiter, ImportMap } from './import-map.ts'
import { readNumber } from './read-number.ts'
import { partsOf, senmlRows } from './senml.ts'
import { TIME_FORMATS, timeReader } from './read-time.ts'
import { tableRows } from './table-rows.ts'
import type { TableRow } from './table-rows.ts'
import { parseLine } from './line-protocol.ts'

/** What the beginning of a file shows. */
export interface FirstLook {
  readonly columns: readonly string[]
  /** First rows as they stand, headings left out. */
  readonly rows: readonly (readonly string[])[]
  /** How it is most likely meant; a probe or channel that nothing names is left empty. */
  readonly map: ImportMap
}

const TIME_WORDS = /^(time|date|datetime|timestamp|zeit|datum|uhrzeit|fecha|hora|heure)\b/i
const DATE = /^\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}/
const HEADING = /^([a-z][a-z0-9]{0,7}(?:\.s)?)(?:\s*[[(](.*)[\])])?$/i
const ROWS_SHOWN = 8

/**
 * Guesses how a file is to be read from its beginning (whole lines). What this hub wrote itself is recognised.
 *
 * @param zone IANA zone of times without an offset
 * @param said what is known and need not be guessed
 */
export async function guessMap(
  start: Uint8Array,
  zone: string,
  said: { readonly delimiter?: Delimiter; readonly headings?: boolean } = {},
): Promise<FirstLook> {
  const text = new TextDecoder().decode(start.subarray(0, 4096))
  if (text.trimStart().startsWith('[')) return senmlLook(start)
  const first = text.split('\n').find((line) => line.trim() !== '' && !line.startsWith('#')) ?? ''
  const line = parseLine(first)
  if (line !== null && !('expected' in line) && line.timestamp !== null) {
    const tag = line.tags.find(([key]) => key === 'probe') ?? line.tags[0]
    const digits = String(line.timestamp).length
    const precision = digits > 17 ? 'ns' : digits > 14 ? 'us' : digits > 11 ? 'ms' : 's'
    const probe = tag === undefined ? { id: '' } : { column: tag[0] }
    return { columns: [], rows: [], map: { layout: 'lines', precision, probe, channels: [] } }
  }
  const delimiter = said.delimiter ?? delimiterOf(first)
  const table: TableRow[] = []
  for await (const row of tableRows(once(start), delimiter)) {
    table.push(row)
    if (table.length > ROWS_SHOWN) break
  }
  const head = table[0]?.cells ?? []
  const looksLike = head.every(
    (cell) => typeof readNumber(cell.replace(',', '.'), '.') !== 'number' && !DATE.test(cell),
  )
  const headings = said.headings ?? looksLike
  const columns = headings ? head : head.map((_, i) => `#${i + 1}`)
  const rows = (headings ? table.slice(1) : table).map(({ cells }) => cells)
  return { columns, rows, map: tableMap(columns, rows, { delimiter, headings, zone }) }
}

/** SenML: which probes and channels its names speak of. */
async function senmlLook(start: Uint8Array): Promise<FirstLook> {
  const names = new Set<string>()
  for await (const row of senmlRows(once(start))) {
    if ('measured' in row) names.add(row.measured.name)
  }
  const parts = Array.from(names, partsOf)
  const isProbe = (id: string): boolean => PROBE_ID.test(id) && !RESERVED_IDS.includes(id)
  const named = parts.length > 0 && parts.every(({ probe }) => isProbe(probe))
  return {
    columns: [...new Set(parts.map(({ channel }) => channel))].slice(0, 64),
    rows: [],
    map: { layout: 'senml', probe: named ? { column: 'name' } : { id: '' }, channels: [] },
  }
}

// oxlint-disable-next-line require-await -- a source is asynchronous
async function* once(bytes: Uint8Array): AsyncGenerator<Uint8Array> {
  yield bytes
}

function delimiterOf(line: string): Delimiter {
  const counts = DELIMITERS.map((d) => line.split(d).length)
  return DELIMITERS[counts.indexOf(Math.max(...counts))] ?? ','
}

function tableMap(
  columns: readonly string[],
  rows: readonly (readonly string[])[],
  { delimiter, headings, zone }: { delimiter: Delimiter; headings: boolean; zone: string },
): ImportMap {
  const named = (name: string): string | undefined =>
    columns.find((column) => column.toLowerCase() === name)
  const cells = (column: string): string[] => {
    const index = columns.indexOf(column)
    return rows.map((row) => row[index] ?? '').filter((cell) => cell !== '')
  }
  const timeColumn =
    columns.find((c) => TIME_WORDS.test(c)) ??
    columns.find((c) => cells(c).some((cell) => /^\d{4}-\d{2}-\d{2}/.test(cell))) ??
    columns[0] ??
    ''
  const format =
    TIME_FORMATS.filter((f) => {
      const reader = timeReader(f, zone)
      return cells(timeColumn).every((cell) => !Number.isNaN(reader.read(cell, -Infinity)))
    }).find((f) => f !== 'seconds' || cells(timeColumn).every((cell) => cell.length < 12)) ?? 'iso'
  const decimal =
    delimiter !== ',' && rows.some((row) => row.some((cell) => /^-?\d+,\d+$/.test(cell)))
      ? ','
      : '.'
  const probeColumn = named('probe')
  const base = {
    delimiter,
    decimal,
    headings,
    time: { column: timeColumn, format, zone },
    probe: probeColumn === undefined ? { id: '' } : { column: probeColumn },
  } as const
  const [channelColumn, valueColumn] = [named('channel'), named('value')]
  if (channelColumn !== undefined && valueColumn !== undefined) {
    const unitColumn = named('unit') ?? null
    return { layout: 'long', ...base, channelColumn, valueColumn, unitColumn, channels: [] }
  }
  const others = columns.filter((c) => c !== timeColumn && c !== probeColumn)
  const numeric = others.filter((c) => {
    const found = cells(c).map((cell) => readNumber(cell, decimal))
    return found.length > 0 && found.every((value) => value !== undefined)
  })
  const channels = numeric.flatMap((column): ChannelMap[] => {
    const found = channelOf(column)
    return found === null ? [] : [{ column, ...found, senses: null }]
  })
  return { layout: 'wide', ...base, channels }
}

/** The channel a heading such as 'phmv (mV)' names, or one of a usual kind; null when it says nothing. */
function channelOf(heading: string): { channel: string; unit: string } | null {
  const found = HEADING.exec(heading)
  const name = found?.[1]?.toLowerCase() ?? ''
  if (found !== null && CHANNEL_NAME.test(name.replace(/\.s$/, ''))) {
    const guess = guessChannel(name.replace(/\.s$/, ''))
    if (guess.senses !== 'other' || found[2] !== undefined) {
      return { channel: name, unit: found[2] ?? '' }
    }
  }
  return null
}
