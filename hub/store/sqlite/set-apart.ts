import { DAY } from '../../model/clock.ts'
import { emptyBlock, encodeBlock } from './block.ts'
import { DamagedContent } from './damaged-content.ts'
import { dayLeft } from './day-left.ts'
import { rowOf, transact } from './open-database.ts'
import { startOf } from './roll-up.ts'
import type { Place } from './damaged-content.ts'
import type { Database } from './open-database.ts'

/** What was met damaged, in a sentence without its end. */
export interface Apart {
  readonly what: string
  readonly why: string
}

interface BlockRow {
  readonly probe: number
  readonly name: string
  readonly start: number
  readonly n: number
}

/**
 * Work that meets damaged bytes goes on without them: the block with what says which numbers it holds, the hours of a
 * thinned day, or the row of the log, moves as it is to the table `damaged`, and the work is begun again. What it did
 * before must be undone by then. Readings of a block that is gone are new when they come again.
 *
 * @param options.changed told before blocks change
 * @param options.tell told after each part that moved
 */
export function settingApart(
  db: Database,
  options: { readonly changed: () => void; readonly tell: (apart: Apart) => void },
): <T>(work: () => T) => T {
  const findLog = db.prepare('SELECT readings AS n FROM log WHERE i = ?')
  const keepLog = db.prepare(
    `INSERT INTO damaged (at, part, place, n, why, body)
     SELECT ?, 'log', i, readings, ?, body FROM log WHERE i = ?`,
  )
  const dropLog = db.prepare('DELETE FROM log WHERE i = ?')
  const findBlock = db.prepare(
    `SELECT block.probe, name, start, n FROM block JOIN probe ON probe.id = block.probe
     WHERE block.id = ?`,
  )
  const findNext = db.prepare(
    'SELECT min(start) AS start FROM block WHERE probe = ? AND start > ? AND start < ?',
  )
  const keepBlock = db.prepare(
    `INSERT INTO damaged (at, part, place, until, probe, thinned, n, why, body)
     SELECT ?, 'block', start, ?, probe, thinned, n, ?, body FROM block WHERE id = ?`,
  )
  const dropSpans = db.prepare('DELETE FROM span WHERE probe = ? AND block = ?')
  const dropBlock = db.prepare('DELETE FROM block WHERE id = ? AND (thinned = 0 OR hours IS NULL)')
  // Hours stand for the values of that day: only names and moments of its readings are lost.
  const clearBlock = db.prepare('UPDATE block SET n = 0, body = ? WHERE id = ?')
  const keepHours = db.prepare(
    `INSERT INTO damaged (at, part, place, until, probe, thinned, n, why, body)
     SELECT ?, 'hours', ?, ?, probe, 1, ?, ?, hours FROM block WHERE id = ?`,
  )
  const setHours = db.prepare('UPDATE block SET hours = ? WHERE id = ?')
  const findLength = db.prepare('SELECT length(hours) AS bytes FROM block WHERE id = ?')
  const addTally = db.prepare(`UPDATE tally SET n = n + ? WHERE name = ?`)
  const leftOf = dayLeft(db)

  function logRow(row: number, why: string): string | null {
    const found = rowOf<{ n: number }>(findLog, row)
    if (found === null) return null
    keepLog.run(Date.now(), why, row)
    dropLog.run(row)
    return `a batch of ${found.n} readings that waited in the log`
  }

  function block(row: number, why: string): string | null {
    const found = rowOf<BlockRow>(findBlock, row)
    if (found === null) return null
    const { probe, name, start, n } = found
    const end = startOf(start, DAY) + DAY
    const next = rowOf<{ start: number | null }>(findNext, probe, start, end)?.start
    keepBlock.run(Date.now(), next ?? end, why, row)
    dropSpans.run(probe, row)
    if (dropBlock.run(row).changes === 0) clearBlock.run(encodeBlock(emptyBlock()), row)
    addTally.run(BigInt(-n), 'readings')
    return `${n} readings of ${name} from ${new Date(start).toISOString()} on`
  }

  /** The row of the day stays. How many hours there were cannot be told any more: they stay counted. */
  function hours(row: number, why: string): string | null {
    const found = rowOf<BlockRow>(findBlock, row)
    const length = rowOf<{ bytes: number | null }>(findLength, row)?.bytes ?? 0
    if (found === null || length === 0) return null
    const { probe, name, start } = found
    const day = startOf(start, DAY)
    const left = leftOf(probe, day)
    keepHours.run(Date.now(), day, day + DAY, left.readings, why, row)
    setHours.run(left.hours, row)
    addTally.run(BigInt(left.hours.length - length), 'hour bytes')
    return `the hours of ${name} of ${new Date(day).toISOString().slice(0, 10)}`
  }

  const kinds: Readonly<Record<Place['table'], (row: number, why: string) => string | null>> = {
    log: logRow,
    block,
    hours,
  }

  function move(error: DamagedContent): void {
    const { place, message: why } = error
    if (place === null) throw error
    options.changed()
    let what: string | null
    try {
      what = transact(db, () => kinds[place.table](place.row, why))
    } catch (other) {
      // What stands beside it is damaged, too.
      if (!(other instanceof DamagedContent) || other.place?.table === place.table) throw other
      move(other)
      return
    }
    // Gone already: the work was at something else than what is there.
    if (what === null) throw error
    options.tell({ what, why })
  }

  return (work) => {
    for (;;) {
      try {
        return work()
      } catch (error) {
        if (!(error instanceof DamagedContent)) throw error
        move(error)
      }
    }
  }
}
