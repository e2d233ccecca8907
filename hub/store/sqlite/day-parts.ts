import { DAY } from '../../model/clock.ts'
import { decodeBlock } from './block.ts'
import { rowsOf } from './open-database.ts'
import { startOf } from './roll-up.ts'
import { LEAST_BYTES, LEAST_READINGS } from './thinned-day.ts'
import type { Database } from './open-database.ts'
import type { DayPart } from './thinned-day.ts'

/** A UTC day of a probe whose readings are whole and many enough. */
export interface WholeDay {
  /** Epoch ms. */
  readonly day: number
  readonly readings: number
  readonly bytes: number
}

/** Looks for days of probes that can be thinned. */
export function wholeDays(db: Database) {
  const findNewest = db.prepare('SELECT max(start) AS start FROM block WHERE probe = ?')
  const findBlocks = db.prepare(
    `SELECT start, n, thinned, length(body) AS bytes, hours IS NULL AS untried FROM block
     WHERE probe = ? AND start < ? ORDER BY start`,
  )
  const findParts = db.prepare(
    'SELECT id, start, body FROM block WHERE probe = ? AND start >= ? AND start < ? ORDER BY start',
  )
  return {
    /**
     * Whole days of a probe before a moment, ascending, and how many of them are not worth it: too few readings, or
     * thinned without getting smaller and the same since. The newest of a probe is never among them: it is what a page shows of a probe that fell silent.
     */
    of(probe: number, before: number): { readonly worth: WholeDay[]; readonly kept: number } {
      const newest = rowsOf<{ start: number | null }>(findNewest, probe)[0]?.start ?? null
      if (newest === null) return { worth: [], kept: 0 }
      const limit = BigInt(Math.min(before, startOf(newest, DAY)))
      const days = new Map<
        number,
        { readings: number; bytes: number; thinned: boolean; untried: boolean }
      >()
      for (const row of rowsOf<{
        start: number
        n: number
        thinned: number
        bytes: number
        untried: number
      }>(findBlocks, probe, limit)) {
        const day = startOf(row.start, DAY)
        const sum = days.get(day) ?? { readings: 0, bytes: 0, thinned: false, untried: false }
        sum.readings += row.n
        sum.bytes += row.bytes
        sum.thinned ||= row.thinned === 1
        sum.untried ||= row.untried === 1
        days.set(day, sum)
      }
      const whole = [...days].filter(([, { thinned }]) => !thinned)
      const worth = whole.flatMap(([day, { readings, bytes, untried }]) =>
        untried && readings > LEAST_READINGS && bytes > LEAST_BYTES
          ? [{ day, readings, bytes }]
          : [],
      )
      return { worth, kept: whole.length - worth.length }
    },
    /** The blocks of one day, read. */
    parts(
      probe: number,
      day: number,
    ): (DayPart & { readonly id: number; readonly bytes: number })[] {
      const rows = rowsOf<{ id: number; start: number; body: Uint8Array }>(
        findParts,
        probe,
        BigInt(day),
        BigInt(day + DAY),
      )
      return rows.map(({ id, start, body }, i) => ({
        id,
        bytes: body.length,
        start,
        end: rows[i + 1]?.start ?? day + DAY,
        block: decodeBlock(body, id),
      }))
    },
  }
}
