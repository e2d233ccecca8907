import { DAY } from '../../model/clock.ts'
import { openSeries } from './block.ts'
import { rowOf, rowsOf } from './open-database.ts'
import { dayStats } from './roll-up.ts'
import type { Database } from './open-database.ts'
import type { Columns } from './roll-up.ts'

/** A block of a day, as far as its series go. */
export interface DayPart extends Columns {
  readonly thinned: boolean
  readonly channels: Iterable<string>
  values(channel: string): readonly number[] | null
}

/** NaN stands as NULL. */
const orNull = (value: number): number | null => (Number.isNaN(value) ? null : value)

/** Keeps the row of each series and UTC day. Made anew, never counted on: late readings cannot count twice. */
export function dailyRows(db: Database) {
  const put = db.prepare('INSERT OR REPLACE INTO daily VALUES (?, ?, ?, ?, ?, ?, ?)')
  const findBlocks = db.prepare(
    'SELECT thinned, body FROM block WHERE probe = ? AND start >= ? AND start < ? ORDER BY start',
  )
  const findSeries = db.prepare(
    'SELECT id FROM series WHERE probe = ? AND channel = ? AND timed = 1',
  )
  const drops = ['hourly', 'daily'].map((table) =>
    db.prepare(
      `DELETE FROM ${table} WHERE series IN (SELECT id FROM series WHERE probe = ?)
       AND t >= ? AND t < ?`,
    ),
  )

  /** Makes the rows of one day out of its blocks. Days that have been thinned stay as they were made before. */
  function make(
    day: number,
    parts: readonly DayPart[],
    seriesOf: (channel: string) => number,
  ): void {
    if (parts.some(({ thinned }) => thinned)) return
    for (const channel of new Set(parts.flatMap((part) => [...part.channels]))) {
      const stats = dayStats(parts.map((part) => ({ columns: part, values: part.values(channel) })))
      if (stats === null) continue
      const { n, low, mean, high, median } = stats
      put.run(seriesOf(channel), day, n, orNull(low), orNull(mean), orNull(high), orNull(median))
    }
  }

  return {
    make,
    /** The same out of what is on the disk, without what was there before. */
    remake(probe: number, day: number): void {
      const rows = rowsOf<{ thinned: number; body: Uint8Array }>(findBlocks, probe, day, day + DAY)
      if (rows.some(({ thinned }) => thinned === 1)) return
      for (const drop of drops) drop.run(probe, day, day + DAY)
      const parts = rows.map(({ body }): DayPart => ({ thinned: false, ...openSeries(body) }))
      // A channel of a series has one, or its values would not be in a block.
      make(day, parts, (channel) => rowOf<{ id: number }>(findSeries, probe, channel)?.id ?? 0)
    },
  }
}
