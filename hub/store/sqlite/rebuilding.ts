import { DAY } from '../../model/clock.ts'
import { dailyRows } from './daily-rows.ts'
import { rowsOf, transact } from './open-database.ts'
import { startOf } from './roll-up.ts'
import type { Database } from './open-database.ts'

/** The UTC days that a probe has readings in, from the first to the day after the last, epoch ms. */
export interface ProbeSpan {
  readonly probe: number
  readonly from: number
  readonly to: number
}

/** Makes the rows of days anew out of the readings, a stretch at a time. Hours are made when they are read. */
export function rebuilding(db: Database): {
  spans(): ProbeSpan[]
  /** Drops what stands outside of a span: rows of readings that are gone. */
  trim(span: ProbeSpan): void
  /** Makes the days of a stretch anew; whole UTC days. */
  days(stretch: ProbeSpan): void
} {
  const findSpans = db.prepare(
    `SELECT id AS probe, (SELECT min(start) FROM block WHERE probe = probe.id) AS first,
       (SELECT max(start) FROM block WHERE probe = probe.id) AS last
     FROM probe ORDER BY id`,
  )
  const outside = db.prepare(
    `DELETE FROM daily WHERE series IN (SELECT id FROM series WHERE probe = ?)
     AND (t < ? OR t >= ?)`,
  )
  const daily = dailyRows(db)
  return {
    spans: () =>
      rowsOf<{ probe: number; first: number | null; last: number | null }>(findSpans).map(
        ({ probe, first, last }) => ({
          probe,
          from: first === null ? 0 : startOf(first, DAY),
          to: last === null ? 0 : startOf(last, DAY) + DAY,
        }),
      ),
    trim({ probe, from, to }) {
      transact(db, () => {
        outside.run(probe, from, to)
      })
    },
    days({ probe, from, to }) {
      transact(db, () => {
        for (let day = from; day < to; day += DAY) daily.remake(probe, day)
      })
    },
  }
}
