import { DAY, HOUR } from '../../model/clock.ts'
import { openSeries } from './block.ts'
import { rowOf, rowsOf } from './open-database.ts'
import { inSeries, startOf, statsOf } from './roll-up.ts'
import type { Buckets, BucketQuery, Step } from '../../model/series.ts'
import type { BlockSeries } from './block.ts'
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

type Row = readonly [number, number, number | null, number | null, number | null, number | null]

const nothing = (): Found => ({ time: [], count: [], low: [], mean: [], high: [], median: [] })

/** Answers queries about series out of blocks and rows of roll-ups. */
export function seriesReader(db: Database): (queries: readonly BucketQuery[]) => Buckets[] {
  const findProbe = db.prepare('SELECT id FROM probe WHERE name = ?')
  const findSeries = db.prepare(
    'SELECT id FROM series WHERE probe = ? AND channel = ? AND timed = 1',
  )
  const findBlocks = db.prepare(
    'SELECT body FROM block WHERE probe = ? AND start >= ? AND start < ? AND thinned = 0 ORDER BY start',
  )
  const rowsIn = (table: string) => {
    const statement = db.prepare(
      `SELECT t, n, low, mean, high, median FROM ${table} WHERE series = ? AND t >= ? AND t < ? ORDER BY t`,
    )
    statement.setReturnArrays(true)
    return statement
  }
  const tables = { hour: rowsIn('hourly'), day: rowsIn('daily') }

  function push(found: Found, [t, n, low, mean, high, median]: Row): void {
    found.time.push(t)
    found.count.push(n)
    found.low.push(low ?? NaN)
    found.mean.push(mean ?? NaN)
    found.high.push(high ?? NaN)
    found.median.push(median ?? NaN)
  }

  function stored(
    step: 'hour' | 'day',
    probe: number,
    channel: string,
    from: number,
    to: number,
  ): Row[] {
    const series = rowOf<{ id: number }>(findSeries, probe, channel)
    return series === null ? [] : rowsOf<Row>(tables[step], series.id, from, to)
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
    let held: number[] = []
    let hour = NaN
    const close = (): void => {
      if (Number.isNaN(hour) || hour < from || hour >= to) return
      const { n, low, mean, high, median } = statsOf(Float64Array.from(held))
      rows.push([hour, n, low, mean, high, median])
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
          held = []
        }
        if (!Number.isNaN(values[i]!)) held.push(values[i]!)
      }
    }
    close()
    return rows
  }

  return (queries) => {
    // Channels of one probe over the same stretch lie in the same blocks.
    const opened = new Map<string, BlockSeries[]>()
    const blocksIn = (probe: number, from: number, to: number): BlockSeries[] => {
      const key = `${probe} ${from} ${to}`
      let parts = opened.get(key)
      if (parts === undefined) {
        const rows = rowsOf<{ body: Uint8Array }>(findBlocks, probe, startOf(from, DAY), to)
        opened.set(key, (parts = rows.map(({ body }) => openSeries(body))))
      }
      return parts
    }

    const answer = ({ probe: name, channel, from, to, step }: BucketQuery): Found => {
      const found = nothing()
      const probe = rowOf<{ id: number }>(findProbe, name)?.id
      if (probe === undefined) return found
      if (step === 'raw') {
        for (const part of blocksIn(probe, from, to)) {
          const values = part.values(channel)
          if (values !== null) raw(part, values, from, to, found)
        }
      } else if (step === 'day') {
        for (const row of stored('day', probe, channel, from, to)) push(found, row)
      } else {
        const whole = Math.ceil(to / HOUR) * HOUR
        for (const row of merged(
          stored('hour', probe, channel, from, to),
          hours(blocksIn(probe, from, whole), channel, from, to),
        )) {
          push(found, row)
        }
      }
      return found
    }
    return queries.map((query) => toBuckets(query.step, answer(query)))
  }
}

/** Two ascending lists as one; where both have an hour, the first is meant. */
function merged(kept: readonly Row[], made: readonly Row[]): readonly Row[] {
  if (kept.length === 0) return made
  const known = new Set(kept.map(([t]) => t))
  return [...kept, ...made.filter(([t]) => !known.has(t))].sort((a, b) => a[0] - b[0])
}

function toBuckets(step: Step, found: Found): Buckets {
  const column = (values: readonly number[]): Float64Array => Float64Array.from(values)
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
