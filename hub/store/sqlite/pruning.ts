import { rowOf, rowsOf, transact } from './open-database.ts'
import { markDirty, rollUps } from './roll-up.ts'
import type { Database } from './open-database.ts'
import type { DirtyBuckets } from './roll-up.ts'

/**
 * Deletes readings older than a moment in bounded transactions, oldest of a probe first.
 *
 * @returns deletes at most `limit` readings of one probe and tells how many; 0 when none is left.
 */
export function pruning(db: Database): (before: number, limit: number) => number {
  const findProbe = db.prepare(
    `SELECT id FROM probe WHERE EXISTS (
       SELECT 1 FROM reading WHERE reading.probe = probe.id AND t < ?
     ) LIMIT 1`,
  )
  const findLast = db.prepare(
    `SELECT max(t) AS t FROM (
       SELECT t FROM reading WHERE probe = ? AND t < ? ORDER BY t LIMIT ?
     )`,
  )
  const dropReadings = db.prepare('DELETE FROM reading WHERE probe = ? AND t <= ?')
  const findSeries = db.prepare('SELECT id, timed FROM series WHERE probe = ?')
  const dropValues = db.prepare('DELETE FROM r WHERE series = ? AND t <= ?')
  const dropHours = db.prepare('DELETE FROM hourly WHERE series = ? AND t <= ?')
  const dropDays = db.prepare('DELETE FROM daily WHERE series = ? AND t <= ?')
  const dropLatest = db.prepare('DELETE FROM latest WHERE series = ? AND t <= ?')
  const addTally = db.prepare(`UPDATE tally SET n = n - ? WHERE name = 'readings'`)
  const rollUp = rollUps(db)

  return (before, limit) =>
    transact(db, () => {
      const probe = rowOf<{ id: number }>(findProbe, before)
      if (probe === null) return 0
      const last = rowOf<{ t: number }>(findLast, probe.id, before, limit)?.t ?? -Infinity
      const { changes } = dropReadings.run(probe.id, last)
      const dirty: DirtyBuckets = new Map()
      for (const { id, timed } of rowsOf<{ id: number; timed: number }>(findSeries, probe.id)) {
        dropValues.run(id, last)
        if (timed === 0) continue
        dropHours.run(id, last)
        dropDays.run(id, last)
        dropLatest.run(id, last)
        // What is left of the bucket that the cut goes through.
        markDirty(dirty, id, last)
      }
      rollUp(dirty)
      addTally.run(changes)
      return Number(changes)
    })
}
