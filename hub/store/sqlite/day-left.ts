import { DAY } from '../../model/clock.ts'
import { decodeBlock } from './block.ts'
import { encodeHours } from './hour-columns.ts'
import { rowsOf } from './open-database.ts'
import { BOUNDED } from './placed-by.ts'
import { valuesOf } from './roll-up.ts'
import { ABSENT } from './value-column.ts'
import type { Block } from './block.ts'
import type { ChannelHours } from './hour-columns.ts'
import type { Database } from './open-database.ts'
import type { Stats } from './roll-up.ts'

interface DayRow {
  readonly channel: string
  readonly n: number
  readonly low: number | null
  readonly mean: number | null
  readonly high: number | null
  readonly median: number | null
}

/** Of a thinned day whose hours cannot be read: what its row still says, as hours of which none is known. */
export interface DayLeft {
  readonly hours: Uint8Array<ArrayBuffer>
  /** Readings that are gone. */
  readonly readings: number
}

/**
 * What stands for a thinned day without its hours. Its rows were made of the hours and of what came late; the late ones
 * are taken out again, so that making the rows anew gives the same. Medians stay as the rows have them.
 */
export function dayLeft(db: Database): (probe: number, day: number) => DayLeft {
  const findRows = db.prepare(
    `SELECT channel, n, low, mean, high, median FROM series JOIN daily ON daily.series = series.id
     WHERE probe = ? AND timed = 1 AND t = ?`,
  )
  const findBlocks = db.prepare(
    'SELECT id, body FROM block WHERE probe = ? AND start >= ? AND start < ? AND thinned = 1',
  )
  return (probe, day) => {
    const blocks = rowsOf<{ id: number; body: Uint8Array }>(
      findBlocks,
      probe,
      BigInt(day),
      BigInt(day + DAY),
    ).map(({ id, body }) => decodeBlock(body, id))
    const channels = new Map<string, ChannelHours>()
    for (const row of rowsOf<DayRow>(findRows, probe, BigInt(day))) {
      const late = valuesOf(
        blocks.map((block) => ({ columns: block, values: block.values.get(row.channel) ?? null })),
      )
      const stats = without(row, Array.from(late))
      if (stats !== null)
        channels.set(row.channel, { day: stats, hours: Array.from({ length: 24 }, () => null) })
    }
    const readings = blocks.reduce((sum, block) => sum + bare(block), 0)
    return { hours: encodeHours(channels, readings), readings }
  }
}

/** Null: all of it came late. */
function without({ n, low, mean, high, median }: DayRow, late: readonly number[]): Stats | null {
  const known = late.filter((value) => !Number.isNaN(value))
  const left = n - known.length
  if (left <= 0 && late.length > 0) return null
  if (left <= 0 || low === null || mean === null || high === null || median === null)
    return { n: 0, low: NaN, mean: NaN, high: NaN, median: NaN }
  const sum = known.reduce((total, value) => total + value, 0)
  return { n: left, low, mean: (n * mean - sum) / left, high, median }
}

/** Readings of which only the name is left. */
function bare(block: Block): number {
  const columns = [...block.values.values()]
  return block.placedBy.filter(
    (by, i) => by !== BOUNDED && columns.every((column) => column[i] === ABSENT),
  ).length
}
