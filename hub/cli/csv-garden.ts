import { readFileSync } from 'node:fs'
import { parse } from 'csv-parse/sync'
import { rollHours } from '../analysis/aggregate/roll-hours.ts'
import { HubError } from '../errors.ts'
import type { Bed, Spot } from '../model/bed.ts'
import { HOUR } from '../model/clock.ts'
import type { BedFeeds, FeedChannel, SpotFeed } from '../model/feed.ts'
import type { Channel } from '../model/probe.ts'
import type { Sensed } from '../model/quantity.ts'

/** Which column of a file holds what. */
export interface CsvColumns {
  readonly time: string
  readonly ph: string
  /** Volume fraction, 0 to 1. */
  readonly moisture: string | null
  /** Degrees Celsius. */
  readonly temperature: string | null
  /** Tells the spots of the bed apart; without it the file is one spot. */
  readonly spot: string | null
}

export interface CsvGarden {
  readonly bed: Bed
  readonly spots: readonly Spot[]
  readonly feeds: BedFeeds
  readonly rows: number
  /** Rows that could not be used, with the line and the reason; the first hundred. */
  readonly refused: readonly { readonly line: number; readonly reason: string }[]
  readonly refusedCount: number
}

const MOST_TOLD = 100

function bad(message: string): HubError {
  return new HubError('HUB_CONFIG', message, { retry: false })
}

/** '2021-05-01T00:15', with or without seconds and zone; without a zone it is UTC. Or epoch ms. NaN otherwise. */
function epochOf(text: string): number {
  if (/^\d{12,14}$/.test(text)) return Number(text)
  const shape = /^\d{4}-\d{2}-\d{2}(?:[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?)?(Z|[+-]\d{2}:?\d{2})?$/
  const found = shape.exec(text)
  if (found === null) return NaN
  return Date.parse(
    `${text.replace(' ', 'T')}${found[1] === undefined && text.length > 10 ? 'Z' : ''}`,
  )
}

/**
 * Reads a table of readings as a bed with a probe in each spot.
 *
 * @throws HubError HUB_CONFIG when the file cannot be read or lacks a column
 */
export function csvGarden(file: string, columns: CsvColumns): CsvGarden {
  let text: string
  try {
    text = readFileSync(file, 'utf8')
  } catch (error) {
    throw bad(`cannot read ${file}: ${(error as Error).message}`)
  }
  let records: string[][]
  try {
    records = parse(text, { bom: true, skip_empty_lines: true, relax_column_count: true })
  } catch (error) {
    throw bad(`${file} is no table of comma-separated values: ${(error as Error).message}`)
  }
  const header = records[0] ?? []
  const indexOf = (name: string | null): number => {
    if (name === null) return -1
    const index = header.indexOf(name)
    if (index < 0) {
      throw bad(`${file} has no column '${name}'; expected one of: ${header.join(', ')}`)
    }
    return index
  }
  const at = {
    time: indexOf(columns.time),
    ph: indexOf(columns.ph),
    moisture: indexOf(columns.moisture),
    temperature: indexOf(columns.temperature),
    spot: indexOf(columns.spot),
  }
  const refused: { line: number; reason: string }[] = []
  let refusedCount = 0
  const refuse = (line: number, reason: string): void => {
    refusedCount++
    if (refused.length < MOST_TOLD) refused.push({ line, reason })
  }
  const bySpot = new Map<string, { time: number; ph: number; moisture: number; temp: number }[]>()
  for (const [i, record] of records.entries()) {
    if (i === 0) continue
    const time = epochOf(record[at.time] ?? '')
    if (Number.isNaN(time)) {
      refuse(i + 1, `expected a time like 2026-05-01T06:15, got '${record[at.time] ?? ''}'`)
      continue
    }
    const number = (index: number): number => {
      const cell = index < 0 ? '' : (record[index] ?? '').trim()
      if (cell === '' || /^(na|nan|null)$/i.test(cell)) return NaN
      const value = Number(cell)
      if (Number.isNaN(value))
        refuse(i + 1, `expected a number in '${header[index]}', got '${cell}'`)
      return value
    }
    const row = {
      time,
      ph: number(at.ph),
      moisture: number(at.moisture),
      temp: number(at.temperature),
    }
    const name = at.spot < 0 ? 'the spot' : (record[at.spot] ?? '').trim()
    // A row that names no spot says only that nothing was measured.
    if (at.spot >= 0 && name === '') continue
    const rows = bySpot.get(name)
    if (rows === undefined) bySpot.set(name, [row])
    else rows.push(row)
  }
  if (bySpot.size === 0) throw bad(`${file} has no row that can be used`)

  const bed: Bed = {
    id: 1,
    name: file.replace(/^.*[/\\]/, '').replace(/\.csv$/i, ''),
    areaM2: 1,
    depthM: 0.25,
    texture: 'loam',
    crops: [],
    ownBand: null,
    rank: 1,
    createdAt: 0,
    retiredAt: null,
  }
  const spots: Spot[] = []
  const feeds: SpotFeed[] = []
  for (const [name, unsorted] of bySpot) {
    const rows = unsorted.toSorted((a, b) => a.time - b.time)
    const spot = { id: spots.length + 1, bedId: bed.id, name }
    const probe = `csv${spot.id}`
    const time = Float64Array.from(rows, (row) => row.time)
    const channel = (
      channelName: string,
      senses: Sensed,
      unit: string,
      values: Float64Array,
    ): FeedChannel[] =>
      values.some((value) => Number.isFinite(value))
        ? [
            {
              channel: {
                probe,
                name: channelName,
                senses,
                unit,
                low: null,
                high: null,
                resolution: null,
                depthM: null,
                from: null,
                described: true,
              } satisfies Channel,
              buckets: rollHours(time, values),
            },
          ]
        : []
    const column = (of: (row: (typeof rows)[number]) => number): Float64Array =>
      Float64Array.from(rows, of)
    spots.push(spot)
    feeds.push({
      spot,
      probe,
      from: time[0]!,
      to: time.at(-1)! + 1,
      channels: [
        ...channel(
          'ph',
          'ph',
          'pH',
          column((row) => row.ph),
        ),
        ...channel(
          'vwc',
          'vwc',
          '/',
          column((row) => row.moisture),
        ),
        ...channel(
          'st',
          'temp.soil',
          'Cel',
          column((row) => row.temp),
        ),
      ],
      calibrations: [],
    })
  }
  const from = Math.floor(Math.min(...feeds.map((feed) => feed.from)) / HOUR) * HOUR
  const to = Math.ceil(Math.max(...feeds.map((feed) => feed.to)) / HOUR) * HOUR
  return {
    bed,
    spots,
    feeds: { bed, spots, from, to, step: 'hour', feeds },
    rows: records.length - 1,
    refused,
    refusedCount,
  }
}
