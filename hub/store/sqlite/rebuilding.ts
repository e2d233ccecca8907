import { DAY } from '../../model/clock.ts'
import { rowsOf, transact } from './open-database.ts'
import { markDirty, rollUps, startOf } from './roll-up.ts'
import type { Database } from './open-database.ts'
import type { DirtyBuckets } from './roll-up.ts'

/** The UTC days that a series has readings in, from the first to the day after the last, epoch ms. */
export interface SeriesSpan {
  readonly series: number
  readonly from: number
  readonly to: number
}

/** Makes hourly and daily rows anew out of the readings, a stretch at a time. */
export function rebuilding(db: Database): {
  spans(): SeriesSpan[]
  /** Drops what stands outside of a span: rows of readings that are gone. */
  trim(span: SeriesSpan): void
  /** Makes the days of a stretch anew; whole UTC days. */
  days(stretch: SeriesSpan): void
} {
  const findSpans = db.prepare(
    `SELECT id AS series, (SELECT min(t) FROM r WHERE series = series.id) AS first,
       (SELECT max(t) FROM r WHERE series = series.id) AS last
     FROM series WHERE timed = 1 ORDER BY id`,
  )
  const tables = ['hourly', 'daily'].map((table) => ({
    outside: db.prepare(`DELETE FROM ${table} WHERE series = ? AND (t < ? OR t >= ?)`),
    inside: db.prepare(`DELETE FROM ${table} WHERE series = ? AND t >= ? AND t < ?`),
  }))
  const rollUp = rollUps(db)
  return {
    spans: () =>
      rowsOf<{ series: number; first: number | null; last: number | null }>(findSpans).map(
        ({ series, first, last }) => ({
          series,
          from: first === null ? 0 : startOf(first, DAY),
          to: last === null ? 0 : startOf(last, DAY) + DAY,
        }),
      ),
    trim({ series, from, to }) {
      transact(db, () => {
        for (const { outside } of tables) outside.run(series, from, to)
      })
    },
    days({ series, from, to }) {
      transact(db, () => {
        for (const { inside } of tables) inside.run(series, from, to)
        const dirty: DirtyBuckets = new Map()
        for (let hour = from; hour < to; hour += DAY / 24) markDirty(dirty, series, hour)
        rollUp(dirty)
      })
    },
  }
}
