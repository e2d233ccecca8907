import { DAY } from '../../model/clock.ts'
import { openSeries } from './block.ts'
import { openHours, withLate } from './hour-columns.ts'
import { rowOf, rowsOf } from './open-database.ts'
import { dayStats, valuesOf } from './roll-up.ts'
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
    'SELECT id, thinned, body FROM block WHERE probe = ? AND start >= ? AND start < ? ORDER BY start',
  )
  const findSeries = db.prepare(
    'SELECT id FROM series WHERE probe = ? AND channel = ? AND timed = 1',
  )
  const findHours = db.prepare(
    `SELECT id, hours FROM block WHERE probe = ? AND start >= ? AND start < ? AND hours IS NOT NULL
     ORDER BY start LIMIT 1`,
  )
  const drop = db.prepare(
    `DELETE FROM daily WHERE series IN (SELECT id FROM series WHERE probe = ?)
     AND t >= ? AND t < ?`,
  )

  /** Makes the rows of one day of a probe out of its blocks, and of what stands for those that have been thinned. */
  function make(
    probe: number,
    day: number,
    parts: readonly DayPart[],
    seriesOf: (channel: string) => number,
  ): void {
    const thinned = parts.some((part) => part.thinned)
    const row = thinned
      ? rowOf<{ id: number; hours: Uint8Array }>(findHours, probe, day, day + DAY)
      : null
    const kept = row === null ? null : openHours(row.hours, row.id)
    const heard = parts.flatMap((part) => [...part.channels])
    for (const channel of new Set([...heard, ...(kept?.channels ?? [])])) {
      const columns = parts.map((part) => ({ columns: part, values: part.values(channel) }))
      const before = kept?.of(channel)?.day ?? null
      const stats =
        before === null ? dayStats(columns) : withLate(before, Array.from(valuesOf(columns)))
      if (stats === null) continue
      const { n, low, mean, high, median } = stats
      put.run(seriesOf(channel), day, n, orNull(low), orNull(mean), orNull(high), orNull(median))
    }
  }

  return {
    make,
    /** The same out of what is on the disk, without what was there before. */
    remake(probe: number, day: number): void {
      const rows = rowsOf<{ id: number; thinned: number; body: Uint8Array }>(
        findBlocks,
        probe,
        day,
        day + DAY,
      )
      drop.run(probe, day, day + DAY)
      const parts = rows.map(({ id, thinned, body }): DayPart => ({
        thinned: thinned === 1,
        ...openSeries(body, id),
      }))
      // A channel of a series has one, or its values would not be in a block.
      make(
        probe,
        day,
        parts,
        (channel) => rowOf<{ id: number }>(findSeries, probe, channel)?.id ?? 0,
      )
    },
  }
}
