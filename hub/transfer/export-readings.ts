import type { Channel } from '../model/probe.ts'
import type { Buckets } from '../model/series.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { ReadingStore } from '../store/reading-store.ts'
import { type Cell, csvLines } from './csv-lines.ts'
import { isoWriter } from './iso-time.ts'
import { formatLine } from './line-protocol.ts'

/** What of the readings goes out. */
export interface ExportAsked {
  /** Null: all. */
  readonly probes: readonly string[] | null
  /** Null: all. */
  readonly channels: readonly string[] | null
  /** Epoch ms, `from <= t < to`. */
  readonly from: number
  readonly to: number
  readonly step: 'raw' | 'hour'
  /** CSV with one column a channel or one value a row, or InfluxDB line protocol. */
  readonly layout: 'wide' | 'long' | 'lines'
  /** IANA zone in which times are written, or 'UTC'. Line protocol knows UTC alone. */
  readonly zone: string
}

interface Column {
  readonly channel: string
  readonly unit: string
}
interface Piece {
  readonly probe: string
  readonly columns: readonly Column[]
  readonly buckets: readonly Buckets[]
}

const DAY = 86_400_000
/** Rows of one channel read at a time; less than a day is not asked for. */
const ROWS = 5000
/** Names of the measurement in line protocol. */
const MEASUREMENT = { raw: 'reading', hour: 'reading_hour' } as const
const HOURLY = ['mean', 'min', 'max', 'median'] as const

/**
 * Readings as text, piece by piece, probe by probe and ascending in time. Values are as sent: electrical ones stay
 * electrical. Readings whose time is only bounded are left out.
 */
export async function* exportReadings(
  stores: { readonly readings: ReadingStore; readonly garden: GardenStore },
  asked: ExportAsked,
): AsyncGenerator<string> {
  const { readings } = stores
  await readings.settle()
  const columns = await columnsOf(stores, asked)
  const all = [...new Map([...columns.values()].flat().map((c) => [heading(c), c])).values()].sort(
    (a, b) => (a.channel < b.channel || (a.channel === b.channel && a.unit < b.unit) ? -1 : 1),
  )
  if (asked.layout !== 'lines') yield csvLines([headings(asked, all)], true)
  const write = writerOf(asked, all)
  for (const [probe, own] of columns) {
    for await (const buckets of pieces(readings, probe, own, asked)) {
      const text = write({ probe, columns: own, buckets })
      if (text !== '') yield text
    }
  }
}

const heading = ({ channel, unit }: Column): string =>
  unit === '' ? channel : `${channel} (${unit})`

/** Channels with readings, by probe. */
async function columnsOf(
  { readings, garden }: { readonly readings: ReadingStore; readonly garden: GardenStore },
  asked: ExportAsked,
): Promise<ReadonlyMap<string, readonly Column[]>> {
  const [latest, channels] = await Promise.all([readings.latest(), garden.channels()])
  const byName = new Map(channels.map((c) => [`${c.probe}/${c.name}`, c]))
  const columns = new Map<string, Column[]>()
  for (const { probe, channel } of latest) {
    if (asked.probes !== null && !asked.probes.includes(probe)) continue
    // The spread of a channel's samples goes with the channel.
    const base = channel.replace(/\.s$/, '')
    if (asked.channels !== null && !asked.channels.includes(base)) continue
    const known: Channel | undefined = byName.get(`${probe}/${base}`)
    const own = columns.get(probe) ?? []
    own.push({ channel, unit: known?.unit ?? '' })
    columns.set(probe, own)
  }
  return columns
}

/** Buckets of all channels of a probe, a stretch at a time, by where readings are. */
async function* pieces(
  readings: ReadingStore,
  probe: string,
  columns: readonly Column[],
  { from, to, step }: ExportAsked,
): AsyncGenerator<readonly Buckets[]> {
  const whole = { from: Math.floor(from / DAY) * DAY, to }
  const days = await readings.buckets(
    columns.map(({ channel }) => ({ probe, channel, ...whole, step: 'day' as const })),
  )
  const rows = new Map<number, number>()
  for (const { time, count } of days) {
    // A day of failures alone counts no value and has rows all the same.
    time.forEach((day, i) => rows.set(day, Math.max(rows.get(day) ?? 1, count[i] ?? 0)))
  }
  let stretch = null as { from: number; to: number; rows: number } | null
  const read = (s: { from: number; to: number }): Promise<readonly Buckets[]> =>
    readings.buckets(
      columns.map(({ channel }) => ({
        probe,
        channel,
        from: Math.max(from, s.from),
        to: Math.min(to, s.to),
        step,
      })),
    )
  for (const [day, n] of [...rows].sort(([a], [b]) => a - b)) {
    const more = step === 'raw' ? n : 24
    if (stretch !== null && stretch.rows + more > ROWS) {
      yield await read(stretch)
      stretch = null
    }
    stretch = { from: stretch?.from ?? day, to: day + DAY, rows: (stretch?.rows ?? 0) + more }
  }
  if (stretch !== null) yield await read(stretch)
}

function headings({ layout, step, zone }: ExportAsked, all: readonly Column[]): Cell[] {
  const time = `time (ISO 8601, ${zone})`
  if (layout === 'long') {
    return step === 'raw'
      ? [time, 'probe', 'channel', 'value', 'unit']
      : [time, 'probe', 'channel', ...HOURLY, 'readings', 'unit']
  }
  const columns = all.flatMap((column) => {
    if (step === 'raw') return [heading(column)]
    const unit = column.unit === '' ? '' : ` (${column.unit})`
    return [
      ...HOURLY.map((what) => `${column.channel} ${what}${unit}`),
      `${column.channel} readings (count)`,
    ]
  })
  return [time, 'probe', ...columns]
}

function writerOf(asked: ExportAsked, all: readonly Column[]): (piece: Piece) => string {
  const iso = isoWriter(asked.zone)
  const cell = (value: number | undefined): number | null =>
    value === undefined || Number.isNaN(value) ? null : value
  const values = (b: Buckets, i: number): (number | null)[] =>
    asked.step === 'raw'
      ? [cell(b.mean[i])]
      : [...HOURLY.map((what) => cell(b[what][i])), b.count[i] ?? 0]
  const blank = asked.step === 'raw' ? [null] : [...HOURLY.map(() => null), null]

  switch (asked.layout) {
    case 'long':
      return ({ probe, columns, buckets }) => {
        const rows: Cell[][] = []
        for (const [time, at] of byTime(buckets)) {
          at.forEach((i, c) => {
            const { channel, unit } = columns[c]!
            if (i >= 0) rows.push([iso(time), probe, channel, ...values(buckets[c]!, i), unit])
          })
        }
        return csvLines(rows)
      }
    case 'wide':
      return ({ probe, columns, buckets }) => {
        const places = all.map((one) => columns.findIndex((own) => heading(own) === heading(one)))
        const rows: Cell[][] = []
        for (const [time, at] of byTime(buckets)) {
          const cells = places.flatMap((c): Cell[] => {
            const i = c < 0 ? -1 : at[c]!
            if (i < 0) return blank
            const found = values(buckets[c]!, i)
            // Nothing measured and a sensor that failed are not the same.
            return asked.step === 'raw' && found[0] === null ? ['NaN'] : found
          })
          rows.push([iso(time), probe, ...cells])
        }
        return csvLines(rows)
      }
    case 'lines':
      return (piece) => linesOf(piece, asked.step)
  }
}

/** Every number is a float: the first one written fixes the type of a field for good. */
function linesOf({ probe, columns, buckets }: Piece, step: 'raw' | 'hour'): string {
  let text = ''
  for (const [time, at] of byTime(buckets)) {
    const fields = columns.flatMap(({ channel }, c) => {
      const i = at[c]!
      const b = buckets[c]!
      if (i < 0 || Number.isNaN(b.mean[i])) return []
      const field = (name: string, value: number) =>
        [name, { kind: 'float' as const, value }] as const
      return step === 'raw'
        ? [field(channel, b.mean[i]!)]
        : [
            ...HOURLY.map((what) => field(`${channel}_${what}`, b[what][i]!)),
            field(`${channel}_readings`, b.count[i]!),
          ]
    })
    // A reading that failed as a whole has no field, and line protocol has no line without one.
    if (fields.length === 0) continue
    const timestamp = BigInt(time) * 1_000_000n
    text += `${formatLine({ measurement: MEASUREMENT[step], tags: [['probe', probe]], fields, timestamp })}\n`
  }
  return text
}

/** Rows of several columns by time, ascending: for each column the row, or -1. */
function* byTime(buckets: readonly Buckets[]): Generator<[time: number, rows: number[]]> {
  const next = buckets.map(() => 0)
  for (;;) {
    let time = Infinity
    buckets.forEach((b, c) => {
      time = Math.min(time, b.time[next[c]!] ?? Infinity)
    })
    if (time === Infinity) return
    yield [
      time,
      buckets.map((b, c) => {
        const i = next[c]!
        if (b.time[i] !== time) return -1
        next[c] = i + 1
        return i
      }),
    ]
  }
}
