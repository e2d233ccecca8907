import type { FirstLookView, ImportMapInput } from '../../hub/api/schemas/transfer.ts'
import { say } from './say.ts'

type Table = Exclude<ImportMapInput, { layout: 'lines' | 'senml' }>
/** Of a record: } */
const CLOSING = 125

type ChannelMap = ImportMapInput['channels'][number]

/** A column with values, or a name of a channel in the file, as the form shows it. */
export interface ColumnDraft {
  readonly column: string
  /** Empty: left out, or kept under its own name. */
  readonly channel: string
  readonly unit: string
  /** Empty: as the name of the channel says. */
  readonly senses: string
}

/** The mapping dialogue: every answer as it stands in its field. */
export interface ImportDraft {
  readonly layout: ImportMapInput['layout']
  readonly delimiter: Table['delimiter']
  readonly decimal: Table['decimal']
  readonly headings: boolean
  readonly timeColumn: string
  readonly timeFormat: Table['time']['format']
  readonly zone: string
  /** Empty: one probe, `probeId`. */
  readonly probeColumn: string
  readonly probeId: string
  readonly channelColumn: string
  readonly valueColumn: string
  readonly unitColumn: string
  readonly precision: 'ns' | 'us' | 'ms' | 's'
  readonly columns: readonly ColumnDraft[]
}

const idOf = (probe: ImportMapInput['probe']): string => ('id' in probe ? probe.id : '')
const columnOf = (probe: ImportMapInput['probe']): string => ('column' in probe ? probe.column : '')

/** The form as the hub would fill it in. */
export function draftOf({ columns, rows, map }: FirstLookView, zone: string): ImportDraft {
  const table = map.layout === 'lines' || map.layout === 'senml' ? null : map
  const long = map.layout === 'long' ? map : null
  const known = new Map(map.channels.map((one) => [one.column, one]))
  const draft = {
    layout: map.layout,
    delimiter: table?.delimiter ?? ',',
    decimal: table?.decimal ?? '.',
    headings: table?.headings ?? true,
    timeColumn: table?.time.column ?? '',
    timeFormat: table?.time.format ?? 'iso',
    zone: table?.time.zone ?? zone,
    probeColumn: columnOf(map.probe),
    probeId: idOf(map.probe),
    channelColumn: long?.channelColumn ?? '',
    valueColumn: long?.valueColumn ?? '',
    unitColumn: long?.unitColumn ?? '',
    precision: map.layout === 'lines' ? map.precision : ('ns' as const),
  }
  const entry = (column: string): ColumnDraft => {
    const of = known.get(column)
    return { column, channel: of?.channel ?? '', unit: of?.unit ?? '', senses: of?.senses ?? '' }
  }
  return { ...draft, columns: namesFor(draft, columns, rows).map(entry) }
}

/** What may hold values: columns of a wide table, names in the channel column of a long one. */
export function namesFor(
  draft: Pick<ImportDraft, 'layout' | 'timeColumn' | 'probeColumn' | 'channelColumn'>,
  columns: readonly string[],
  rows: readonly (readonly string[])[],
): string[] {
  if (draft.layout === 'lines') return []
  if (draft.layout === 'senml') return [...columns]
  if (draft.layout === 'wide') {
    return columns.filter((c) => c !== draft.timeColumn && c !== draft.probeColumn)
  }
  const at = columns.indexOf(draft.channelColumn)
  const names = rows.flatMap((row) => row[at] ?? []).filter((name) => name !== '')
  return at < 0 ? [] : [...new Set(names)]
}

/** The draft after an answer that changes which names there are; what was said of a name stays. */
export function withNames(
  draft: ImportDraft,
  columns: readonly string[],
  rows: readonly (readonly string[])[],
): ImportDraft {
  const said = new Map(draft.columns.map((one) => [one.column, one]))
  const names = namesFor(draft, columns, rows)
  return {
    ...draft,
    columns: names.map(
      (column) => said.get(column) ?? { column, channel: '', unit: '', senses: '' },
    ),
  }
}

/** What the hub is asked with, or what is still open, by field. */
export function mapOf(draft: ImportDraft): {
  readonly map: ImportMapInput | null
  readonly errors: { path: string; message: string }[]
} {
  const errors: { path: string; message: string }[] = []
  const need = (path: string, text: string, message: string): void => {
    if (text.trim() === '') errors.push({ path, message })
  }
  if (draft.probeColumn === '')
    need('probeId', draft.probeId, 'give the probe these readings are of')
  const probe =
    draft.probeColumn === '' ? { id: draft.probeId.trim() } : { column: draft.probeColumn }
  const channels = draft.columns
    .filter(({ channel }) => channel.trim() !== '')
    .map(({ column, channel, unit, senses }) => ({
      column,
      channel: channel.trim(),
      unit: unit.trim(),
      senses: senses === '' ? null : (senses as ChannelMap['senses']),
    }))
  if (draft.layout === 'senml') {
    return { map: errors.length > 0 ? null : { layout: 'senml', probe, channels }, errors }
  }
  if (draft.layout === 'lines') {
    const { precision } = draft
    return {
      map: errors.length > 0 ? null : { layout: 'lines', precision, probe, channels },
      errors,
    }
  }
  need('timeColumn', draft.timeColumn, 'choose the column with the time')
  const table = {
    delimiter: draft.delimiter,
    decimal: draft.decimal,
    headings: draft.headings,
    time: { column: draft.timeColumn, format: draft.timeFormat, zone: draft.zone.trim() },
    probe,
    channels,
  }
  if (draft.layout === 'wide') {
    if (channels.length === 0) {
      errors.push({ path: 'columns', message: say`give at least one column a channel` })
    }
    return { map: errors.length > 0 ? null : { layout: 'wide', ...table }, errors }
  }
  need('channelColumn', draft.channelColumn, 'choose the column with the channel')
  need('valueColumn', draft.valueColumn, 'choose the column with the value')
  const { channelColumn, valueColumn } = draft
  const unitColumn = draft.unitColumn === '' ? null : draft.unitColumn
  const long = { layout: 'long' as const, ...table, channelColumn, valueColumn, unitColumn }
  return { map: errors.length > 0 ? null : long, errors }
}

/**
 * The beginning of a file up to the end of a line, so that no row is cut through; of an array of records (SenML) up to
 * the end of one, and closed.
 */
export async function beginningOf(file: Blob, most: number): Promise<Blob> {
  if (file.size <= most) return file
  const bytes = new Uint8Array(await file.slice(0, most).arrayBuffer())
  const isArray = new TextDecoder().decode(bytes.subarray(0, 64)).trimStart().startsWith('[')
  if (isArray) return new Blob([file.slice(0, bytes.lastIndexOf(CLOSING) + 1), ']'])
  const end = bytes.lastIndexOf(10)
  return file.slice(0, end < 0 ? most : end + 1)
}
