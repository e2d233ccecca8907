import { DAY, HOUR } from '../../model/clock.ts'
import { openSeries } from './block.ts'
import { unlessDamaged } from './damaged-content.ts'
import { openHours, withLate } from './hour-columns.ts'
import { rowOf, rowsOf } from './open-database.ts'
import { inSeries, startOf, statsOf } from './roll-up.ts'
import type { Buckets, BucketQuery, Step } from '../../model/series.ts'
import type { BlockSeries } from './block.ts'
import type { DayHours } from './hour-columns.ts'
import type { Database } from './open-database.ts'

/** Rows of one answer as they are found; NaN is missing. */
interface Found {
  readonly time: number[]
  readonly count: number[]
  readonly low: number[]
  readonly mean: number[]
  readonly high: number[]
  readonly median: number[]
}

/** The blocks of a stretch: whole ones, and days of which hours stand for the readings. */
interface Blocks {
  readonly whole: readonly BlockSeries[]
  readonly thinned: readonly {
    readonly day: number
    hours: DayHours | null
    /** What came after the readings of the day were gone. */
    readonly late: BlockSeries[]
  }[]
}

type Row = readonly [number, number, number | null, number | null, number | null, number | null]

const nothing = (): Found => ({ time: [], count: [], low: [], mean: [], high: [], median: [] })

export interface SeriesAnswers {
  /** One for each query, in order. */
  readonly told: Buckets[]
  /** Blocks that could not be read, by their rows; the answers are without what is in them. */
  readonly damaged: readonly number[]
}

/** Answers queries about series out of blocks and rows of roll-ups. */
export function seriesReader(db: Database): (queries: readonly BucketQuery[]) => SeriesAnswers {
  const findProbe = db.prepare('SELECT id FROM probe WHERE name = ?')
  const findSeries = db.prepare(
    'SELECT id FROM series WHERE probe = ? AND channel = ? AND timed = 1',
  )
  const findBlocks = db.prepare(
    'SELECT id, start, thinned, body, hours FROM block WHERE probe = ? AND start >= ? AND start < ? ORDER BY start',
  )
  const findDays = db.prepare(
    'SELECT t, n, low, mean, high, median FROM daily WHERE series = ? AND t >= ? AND t < ? ORDER BY t',
  )
  findDays.setReturnArrays(true)

  /** Values of the hour that is gone through. */
  let held = new Float64Array(64)

  // By place: taking a row apart as a list makes an object for each of its fields.
  function push(found: Found, row: Row): void {
    found.time.push(row[0])
    found.count.push(row[1])
    found.low.push(row[2] ?? NaN)
    found.mean.push(row[3] ?? NaN)
    found.high.push(row[4] ?? NaN)
    found.median.push(row[5] ?? NaN)
  }

  function days(probe: number, channel: string, from: number, to: number): Row[] {
    const series = rowOf<{ id: number }>(findSeries, probe, channel)
    return series === null ? [] : rowsOf<Row>(findDays, series.id, from, to)
  }

  function read(probe: number, from: number, to: number, damaged: Set<number>): Blocks {
    const whole: BlockSeries[] = []
    const thinned = new Map<number, Blocks['thinned'][number]>()
    for (const row of rowsOf<{
      id: number
      start: number
      thinned: number
      body: Uint8Array
      hours: Uint8Array | null
    }>(findBlocks, probe, from, to)) {
      const met = (): void => void damaged.add(row.id)
      const series = unlessDamaged(() => openSeries(row.body), met)
      if (row.thinned === 0) {
        if (series !== null) whole.push(series)
        continue
      }
      const day = startOf(row.start, DAY)
      const own = thinned.get(day) ?? { day, hours: null, late: [] }
      const { hours } = row
      if (hours !== null) own.hours = unlessDamaged(() => openHours(hours), met)
      if (series !== null) own.late.push(series)
      thinned.set(day, own)
    }
    return { whole, thinned: [...thinned.values()] }
  }

  /** Hours that stand for readings, with what came late. */
  function thinnedHours(
    { thinned }: Blocks,
    channel: string,
    from: number,
    to: number,
  ): readonly Row[] {
    const rows: Row[] = []
    for (const { day, hours: kept, late } of thinned) {
      const of = kept?.of(channel)?.hours ?? []
      const came = new Map<number, number[]>()
      for (const part of late) {
        const values = part.values(channel)
        for (let i = 0; i < (values?.length ?? 0); i++) {
          if (!inSeries(part, values!, i)) continue
          const hour = (startOf(part.t[i]!, HOUR) - day) / HOUR
          came.set(hour, [...(came.get(hour) ?? []), values![i]!])
        }
      }
      for (let hour = 0; hour < DAY / HOUR; hour++) {
        const t = day + hour * HOUR
        const before = of[hour] ?? null
        const own = came.get(hour)
        if (t < from || t >= to || (before === null && own === undefined)) continue
        const { n, low, mean, high, median } = withLate(before, own ?? [])
        rows.push([t, n, low, mean, high, median])
      }
    }
    return rows
  }

  function raw(
    part: BlockSeries,
    values: readonly number[],
    from: number,
    to: number,
    found: Found,
  ): void {
    for (let i = 0; i < values.length; i++) {
      const t = part.t[i]!
      if (t < from || t >= to || !inSeries(part, values, i)) continue
      const value = values[i]!
      found.time.push(t)
      found.count.push(Number.isNaN(value) ? 0 : 1)
      found.mean.push(value)
    }
  }

  /** Hours of consecutive blocks; one can lie in two parts of a full day. */
  function hours(parts: readonly BlockSeries[], channel: string, from: number, to: number): Row[] {
    const rows: Row[] = []
    let n = 0
    let hour = NaN
    const close = (): void => {
      if (Number.isNaN(hour) || hour < from || hour >= to) return
      const of = statsOf(held.subarray(0, n))
      rows.push([hour, of.n, of.low, of.mean, of.high, of.median])
    }
    for (const part of parts) {
      const values = part.values(channel)
      if (values === null) continue
      for (let i = 0; i < values.length; i++) {
        if (!inSeries(part, values, i)) continue
        const own = startOf(part.t[i]!, HOUR)
        if (own !== hour) {
          close()
          hour = own
          n = 0
        }
        if (Number.isNaN(values[i]!)) continue
        if (n === held.length) held = longer(held)
        held[n++] = values[i]!
      }
    }
    close()
    return rows
  }

  return (queries) => {
    // Channels of one probe over the same stretch lie in the same blocks.
    const opened = new Map<string, Blocks>()
    const damaged = new Set<number>()
    const blocksIn = (probe: number, from: number, to: number): Blocks => {
      const key = `${probe} ${from} ${to}`
      let blocks = opened.get(key)
      if (blocks === undefined) {
        opened.set(key, (blocks = read(probe, startOf(from, DAY), to, damaged)))
      }
      return blocks
    }

    const answer = ({ probe: name, channel, from, to, step }: BucketQuery): Found => {
      const found = nothing()
      const probe = rowOf<{ id: number }>(findProbe, name)?.id
      if (probe === undefined) return found
      if (step === 'raw') {
        for (const part of blocksIn(probe, from, to).whole) {
          const values = part.values(channel)
          if (values !== null) raw(part, values, from, to, found)
        }
      } else if (step === 'day') {
        for (const row of days(probe, channel, from, to)) push(found, row)
      } else {
        const whole = Math.ceil(to / HOUR) * HOUR
        const blocks = blocksIn(probe, from, whole)
        const made = hours(blocks.whole, channel, from, to)
        const kept = thinnedHours(blocks, channel, from, to)
        for (const row of merged(kept, made)) push(found, row)
      }
      return found
    }
    const told = queries.map((query) => toBuckets(query.step, answer(query)))
    return { told, damaged: [...damaged] }
  }
}

function longer(held: Float64Array<ArrayBuffer>): Float64Array<ArrayBuffer> {
  const more = new Float64Array(2 * held.length)
  more.set(held)
  return more
}

/** Two ascending lists as one; a day is in one of them. */
function merged(kept: readonly Row[], made: readonly Row[]): readonly Row[] {
  return kept.length === 0 ? made : [...kept, ...made].sort((a, b) => a[0] - b[0])
}

function toBuckets(step: Step, found: Found): Buckets {
  const column = (values: readonly number[]): Float64Array => new Float64Array(values)
  const [time, count, mean] = [column(found.time), column(found.count), column(found.mean)]
  // A reading is its own least, mean, most and median: one column, not four copies of it.
  return step === 'raw'
    ? { step, time, count, min: mean, mean, max: mean, median: mean }
    : {
        step,
        time,
        count,
        min: column(found.low),
        mean,
        max: column(found.high),
        median: column(found.median),
      }
}
