import { openDatabase, rowOf, rowsOf } from './open-database.ts'
import { PLACED_BY } from './packed-readings.ts'
import { valueOf } from './scaled.ts'
import { Parcel, serve } from './serve.ts'
import type { BootAccount, PlacedReading } from '../../model/reading.ts'
import type { Buckets, BucketQuery, Step } from '../../model/series.ts'
import type { IntakeCounts, LatestValue, QuarantineRow } from '../reading-store.ts'
import type { Statement } from './open-database.ts'

/** Rows taken from the database at a time. */
const PAGE = 8192

type Row = readonly (number | null)[]

function openReader(file: string) {
  const db = openDatabase(file, { readOnly: true, cacheKiB: 32_768 })

  const columns = (table: string): string =>
    table === 'r' ? `t, (v IS NOT NULL), ${valueOf('v')}` : 't, n, low, mean, high, median'
  const page = (table: string): Statement => {
    const statement = db.prepare(
      `SELECT ${columns(table)} FROM ${table} WHERE series = ? AND t >= ? AND t < ?
       ORDER BY t LIMIT ${PAGE}`,
    )
    statement.setReturnArrays(true)
    return statement
  }
  const pages: Readonly<Record<Step, Statement>> = {
    raw: page('r'),
    hour: page('hourly'),
    day: page('daily'),
  }
  const findSeries = db.prepare(
    `SELECT series.id FROM series JOIN probe ON probe.id = series.probe
     WHERE probe.name = ? AND channel = ? AND timed = 1`,
  )
  const findLatest = db.prepare(
    `SELECT probe.name AS probe, channel, t AS at, ${valueOf('v')} AS value
     FROM latest JOIN series ON series.id = latest.series JOIN probe ON probe.id = series.probe
     WHERE ?1 IS NULL OR probe.name = ?1 ORDER BY probe.name, channel`,
  )
  const findQuarantine = db.prepare(
    `SELECT id, arrived_at AS arrivedAt, topic, payload, reason FROM quarantine
     ORDER BY id DESC LIMIT CAST(? AS INTEGER)`,
  )
  const findTally = db.prepare('SELECT name, n FROM tally')
  const findLost = db.prepare('SELECT coalesce(sum(lost), 0) AS lost FROM mark')

  // What a boot took is received, missing or lost: a number written off that came after all is received.
  const findAccounts = db.prepare(
    `WITH boots AS (
       SELECT boot FROM account WHERE probe = ?1 UNION SELECT boot FROM mark WHERE probe = ?1
     )
     SELECT boots.boot, coalesce(received, 0) AS received, coalesce(late, 0) AS late,
       coalesce(duplicates, 0) AS duplicates, coalesce(conflicting, 0) AS conflicting,
       coalesce(by_arrival, 0) AS arrival, coalesce(by_device, 0) AS device,
       coalesce(by_anchors, 0) AS anchors, coalesce(bounded, 0) AS bounded,
       coalesce(by_file, 0) AS file,
       coalesce(missing, 0) AS missing,
       max(0, min(coalesce(lost, 0), coalesce(highest, -1) + 1 - coalesce(received, 0) - coalesce(missing, 0))) AS lost,
       coalesce(first_at, mark.last_at) AS firstAt,
       max(coalesce(account.last_at, 0), coalesce(mark.last_at, 0)) AS lastAt
     FROM boots LEFT JOIN account ON account.probe = ?1 AND account.boot = boots.boot
       LEFT JOIN mark ON mark.probe = ?1 AND mark.boot = boots.boot
     ORDER BY lastAt DESC, boots.boot DESC`,
  )

  const findNewest = db.prepare(
    `SELECT boot, seq, coalesce(at, t) AS at, arrived_at AS arrivedAt, placed_by AS placedBy,
       flags
     FROM reading WHERE probe = (SELECT id FROM probe WHERE name = ?)
     ORDER BY t DESC LIMIT CAST(? AS INTEGER)`,
  )

  /** All rows of the range in pages; an unknown series has none. */
  const pagesIn = ({ probe, channel, from, to, step }: BucketQuery): Row[][] => {
    const series = rowOf<{ id: number }>(findSeries, probe, channel)
    if (series === null) return []
    const all: Row[][] = []
    for (let next = from; ;) {
      const some = pages[step].all(series.id, next, to) as unknown as Row[]
      all.push(some)
      if (some.length < PAGE) return all
      next = (some.at(-1)?.[0] ?? to) + 1
    }
  }

  const answer = (query: BucketQuery): Buckets => {
    const { step } = query
    const all = pagesIn(query)
    const length = all.reduce((sum, { length: some }) => sum + some, 0)
    const column = (position: number): Float64Array<ArrayBuffer> => {
      const values = new Float64Array(length)
      let i = 0
      for (const rows of all) for (const row of rows) values[i++] = row[position] ?? NaN
      return values
    }
    const [time, count, first] = [column(0), column(1), column(2)]
    // A reading is its own least, mean, most and median: one column, not four copies of it.
    return step === 'raw'
      ? { step, time, count, min: first, mean: first, max: first, median: first }
      : { step, time, count, min: first, mean: column(3), max: column(4), median: column(5) }
  }

  return {
    buckets(queries: readonly BucketQuery[]): Parcel<Buckets[]> {
      // One transaction: all answers show the same moment.
      db.exec('BEGIN')
      try {
        const answers = queries.map(answer)
        const buffers = answers.flatMap((b) =>
          [b.time, b.count, b.min, b.mean, b.max, b.median].map(({ buffer }) => buffer),
        )
        return new Parcel(answers, [...new Set(buffers)] as ArrayBuffer[])
      } finally {
        db.exec('COMMIT')
      }
    },
    latest: (probe: string | null): LatestValue[] =>
      rowsOf<{ probe: string; channel: string; at: number; value: number | null }>(
        findLatest,
        probe,
      ).map((row) => ({ ...row, value: row.value ?? NaN })),
    quarantine: (limit: number): QuarantineRow[] => rowsOf<QuarantineRow>(findQuarantine, limit),
    counts(): IntakeCounts {
      db.exec('BEGIN')
      try {
        const tally = new Map(
          rowsOf<{ name: string; n: number }>(findTally).map(({ name, n }) => [name, n]),
        )
        return {
          readings: tally.get('readings') ?? 0,
          duplicates: tally.get('duplicates') ?? 0,
          quarantined: tally.get('quarantined') ?? 0,
          lost: rowOf<{ lost: number }>(findLost)?.lost ?? 0,
        }
      } finally {
        db.exec('COMMIT')
      }
    },
    accounts: (probe: string): BootAccount[] =>
      rowsOf<Omit<BootAccount, 'probe' | 'placed'> & BootAccount['placed']>(
        findAccounts,
        probe,
      ).map(({ arrival, device, anchors, bounded, file, ...rest }) => ({
        probe,
        ...rest,
        placed: { arrival, device, anchors, bounded, file },
      })),
    newest: (probe: string, limit: number): PlacedReading[] =>
      rowsOf<Omit<PlacedReading, 'placedBy'> & { placedBy: number }>(findNewest, probe, limit).map(
        (row) => ({ ...row, placedBy: PLACED_BY[row.placedBy]! }),
      ),
    close: (): void => db.close(),
  }
}

export type ReaderApi = ReturnType<typeof openReader>

serve<{ readonly file: string }>(({ file }) => openReader(file))
