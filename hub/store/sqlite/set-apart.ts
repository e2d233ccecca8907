import { emptyBlock, encodeBlock } from './block.ts'
import { DamagedContent } from './damaged-content.ts'
import { rowOf, transact } from './open-database.ts'
import type { Database } from './open-database.ts'

/** What was met damaged, in a sentence without its end. */
export interface Apart {
  readonly what: string
  readonly why: string
}

/**
 * Work that meets damaged bytes goes on without them: the block with what says which numbers it holds, or the row of
 * the log, moves as it is to the table `damaged`, and the work is begun again. What it did before must be undone by
 * then. Readings of a block that is gone are new when they come again.
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
  const keepBlock = db.prepare(
    `INSERT INTO damaged (at, part, place, probe, thinned, n, why, body)
     SELECT ?, 'block', start, probe, thinned, n, ?, body FROM block WHERE id = ?`,
  )
  const dropSpans = db.prepare('DELETE FROM span WHERE probe = ? AND block = ?')
  const dropBlock = db.prepare('DELETE FROM block WHERE id = ? AND (thinned = 0 OR hours IS NULL)')
  // Hours stand for the values of that day: only names and moments of its readings are lost.
  const clearBlock = db.prepare('UPDATE block SET n = 0, body = ? WHERE id = ?')
  const addTally = db.prepare(`UPDATE tally SET n = n - ? WHERE name = 'readings'`)

  function logRow(row: number, why: string): string | null {
    const found = rowOf<{ n: number }>(findLog, row)
    if (found === null) return null
    keepLog.run(Date.now(), why, row)
    dropLog.run(row)
    return `a batch of ${found.n} readings that waited in the log`
  }

  function block(row: number, why: string): string | null {
    const found = rowOf<{ probe: number; name: string; start: number; n: number }>(findBlock, row)
    if (found === null) return null
    const { probe, name, start, n } = found
    keepBlock.run(Date.now(), why, row)
    dropSpans.run(probe, row)
    if (dropBlock.run(row).changes === 0) clearBlock.run(encodeBlock(emptyBlock()), row)
    addTally.run(n)
    return `${n} readings of ${name} from ${new Date(start).toISOString()} on`
  }

  return (work) => {
    for (;;) {
      try {
        return work()
      } catch (error) {
        if (!(error instanceof DamagedContent) || error.place === null) throw error
        const { place, message: why } = error
        const { table, row } = place
        options.changed()
        const what = transact(db, () => (table === 'log' ? logRow(row, why) : block(row, why)))
        // Gone already: the work was at something else than what is there.
        if (what === null) throw error
        options.tell({ what, why })
      }
    }
  }
}
