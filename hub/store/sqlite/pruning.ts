import { DAY } from '../../model/clock.ts'
import { cutBlock, decodeBlock, encodeBlock, positionOf } from './block.ts'
import { dailyRows } from './daily-rows.ts'
import { thinnedTally } from './thinned-tally.ts'
import { rowOf, rowsOf, transact } from './open-database.ts'
import { startOf } from './roll-up.ts'
import type { Database } from './open-database.ts'

/** Blocks deleted in one transaction. */
const SLICE = 50

/**
 * Deletes readings older than a moment in bounded transactions, oldest of a probe first. A day of which hours stand for
 * the readings goes as a whole, once all of it is older; what lies aside because it was damaged goes, too.
 *
 * @param changed told before blocks change
 * @returns deletes some readings of one probe and tells how many; 0 when none is left.
 */
export function pruning(db: Database, changed: () => void): (before: number) => number {
  const findProbe = db.prepare(
    `SELECT id FROM probe WHERE EXISTS (
       SELECT 1 FROM block WHERE block.probe = probe.id AND start < ?
     ) LIMIT 1`,
  )
  const findBlocks = db.prepare(
    `SELECT id, start, n, thinned, hours FROM block WHERE probe = ? AND start < ?
     ORDER BY start LIMIT ${SLICE}`,
  )
  const findCut = db.prepare(
    `SELECT id, probe, start, n, body FROM block
     WHERE probe IN (SELECT id FROM probe) AND start >= ? AND start < ? AND thinned = 0
     ORDER BY probe, start`,
  )
  const dropBlock = db.prepare('DELETE FROM block WHERE id = ?')
  const dropSpans = db.prepare('DELETE FROM span WHERE probe = ? AND block = ?')
  const setBlock = db.prepare('UPDATE block SET n = ?, body = ? WHERE id = ?')
  const ofProbe = 'series IN (SELECT id FROM series WHERE probe = ?) AND t < ?'
  const dropDays = db.prepare(`DELETE FROM daily WHERE ${ofProbe}`)
  const dropLatest = db.prepare(`DELETE FROM latest WHERE ${ofProbe}`)
  const dropDamaged = db.prepare('DELETE FROM damaged WHERE until <= ?')
  const addTally = db.prepare(`UPDATE tally SET n = n - ? WHERE name = 'readings'`)
  const daily = dailyRows(db)
  const tally = thinnedTally(db)

  function wholeDays(probe: number, day: number): number {
    const some = rowsOf<{
      id: number
      start: number
      n: number
      thinned: number
      hours: Uint8Array | null
    }>(findBlocks, probe, day)
    for (const { id, thinned, hours } of some) {
      if (thinned === 1 && hours !== null) tally.gone(hours, id)
      dropSpans.run(probe, id)
      dropBlock.run(id)
    }
    const end = some.length < SLICE ? day : startOf(some.at(-1)?.start ?? 0, DAY)
    for (const drop of [dropDays, dropLatest]) drop.run(probe, end)
    return some.reduce((sum, { n }) => sum + n, 0)
  }

  /** The part before a moment of the day that holds it, of the first probe that has one. */
  function partOfDay(day: number, before: number): number {
    for (const one of rowsOf<{ id: number; probe: number; start: number; body: Uint8Array }>(
      findCut,
      day,
      before,
    )) {
      const block = decodeBlock(one.body, one.id)
      const n = positionOf(block, before)
      if (n === 0) continue
      cutBlock(block, 0, n)
      // Its spans may reach too far now: they only say where to look.
      if (block.t.length > 0) setBlock.run(block.t.length, encodeBlock(block), one.id)
      else {
        dropSpans.run(one.probe, one.id)
        dropBlock.run(one.id)
      }
      dropLatest.run(one.probe, before)
      daily.remake(one.probe, day)
      return n
    }
    return 0
  }

  return (before) =>
    transact(db, () => {
      changed()
      const day = startOf(before, DAY)
      dropDamaged.run(day)
      const probe = rowOf<{ id: number }>(findProbe, day)
      const gone = probe === null ? partOfDay(day, before) : wholeDays(probe.id, day)
      if (gone > 0) addTally.run(gone)
      return gone
    })
}
