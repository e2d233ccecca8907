import { DAY } from '../../model/clock.ts'
import { wholeDays } from './day-parts.ts'
import { rowsOf, transact } from './open-database.ts'
import { thinnedDay } from './thinned-day.ts'
import { thinnedTally } from './thinned-tally.ts'
import type { Database } from './open-database.ts'

/** A transaction goes on to the next day while it has taken less than this, ms. */
const SLICE_MS = 8

/** Days of one probe that can be thinned. */
export interface ProbeDays {
  readonly probe: number
  /** Epoch ms, ascending. */
  readonly days: readonly number[]
}

/** What one transaction came to. */
export interface ThinnedSlice {
  /** Days gone through. */
  readonly tried: number
  /** Of these: became hours. */
  readonly days: number
  readonly readings: number
}

/**
 * Thins days of probes in short transactions.
 *
 * @param changed told before blocks change
 */
export function thinning(db: Database, changed: () => void) {
  const findProbes = db.prepare('SELECT id FROM probe ORDER BY id')
  const setBlock = db.prepare('UPDATE block SET thinned = 1, body = ?, hours = ? WHERE id = ?')
  // No hours stand for a block with `thinned = 0`; empty ones tell that there would be nothing to gain. Whatever
  // changes the block takes them away again.
  const setKept = db.prepare(`UPDATE block SET hours = x'' WHERE id = ?`)
  const setThinned = db.prepare(
    'UPDATE probe SET thinned_to = max(coalesce(thinned_to, ?1), ?1) WHERE id = ?2',
  )
  const findThinned = db.prepare(
    'SELECT name, thinned_to AS before FROM probe WHERE thinned_to IS NOT NULL',
  )
  const tally = thinnedTally(db)
  const days = wholeDays(db)

  /** Readings that became hours; null when they stay, as their hours would take as much. */
  function thinDay(probe: number, day: number): number | null {
    const parts = days.parts(probe, day)
    const thinned = thinnedDay(parts)
    const came = thinned.bodies.reduce((sum, { length }) => sum + length, thinned.hours.length)
    // Readings that are all alike take less than their hours.
    if (came >= parts.reduce((sum, { bytes }) => sum + bytes, 0)) {
      for (const { id } of parts) setKept.run(id)
      return null
    }
    for (const [i, { id }] of parts.entries()) {
      setBlock.run(thinned.bodies[i]!, i === 0 ? thinned.hours : null, id)
    }
    setThinned.run(BigInt(day + DAY), probe)
    tally.came(thinned.hours)
    return thinned.readings
  }

  return {
    thinnedTo: (): Map<string, number> =>
      new Map(
        rowsOf<{ name: string; before: number }>(findThinned).map(({ name, before }) => [
          name,
          before,
        ]),
      ),
    probes: (): number[] => rowsOf<{ id: number }>(findProbes).map(({ id }) => id),
    /** What can be thinned of one probe. */
    plan: (probe: number, before: number): ProbeDays => ({
      probe,
      days: days.of(probe, before).worth.map(({ day }) => day),
    }),
    /** Thins the first of these days, as many as a short transaction takes. */
    thin: ({ probe, days: wanted }: ProbeDays): ThinnedSlice => {
      changed()
      return transact(db, () => {
        const start = performance.now()
        const slice = { tried: 0, days: 0, readings: 0 }
        while (
          slice.tried < wanted.length &&
          (slice.tried === 0 || performance.now() - start < SLICE_MS)
        ) {
          const readings = thinDay(probe, wanted[slice.tried++]!)
          if (readings === null) continue
          slice.days++
          slice.readings += readings
        }
        return slice
      })
    },
  }
}
