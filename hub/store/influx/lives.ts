import { randomInt } from 'node:crypto'
import { rowOf } from '../sqlite/open-database.ts'
import type { Database } from '../sqlite/open-database.ts'

/*
 * Which process put which rows into the queue. Two copies of one data folder give the same rows to other readings; by
 * the mark of the process that did, they are told apart. In `forwarding`: `life <its first row>`, and its mark.
 */

/** What the names of these begin with. */
export const LIFE = 'life '
/** A float of InfluxDB holds every whole number below this. */
const MARKS = 2 ** 47

const FIRST_ROW = `CAST(substr(name, ${LIFE.length + 1}) AS INTEGER)`
/** Of the process that put a row there. */
const newestUpTo = (row: string, what: string): string =>
  `SELECT ${what} FROM forwarding WHERE name GLOB '${LIFE}*' AND ${FIRST_ROW} <= ${row}
   ORDER BY ${FIRST_ROW} DESC LIMIT 1`

/** Says, within the transaction that is about to put a row there, that it is this process that does. */
export function ownLife(db: Database): () => void {
  const mark = String(randomInt(MARKS))
  const find = db.prepare('SELECT said FROM forwarding WHERE name = ?')
  const findHighest = db.prepare(`SELECT seq FROM sqlite_sequence WHERE name = 'undelivered'`)
  const say = db.prepare('INSERT OR REPLACE INTO forwarding VALUES (?, ?)')
  // InfluxDB was told of a later row than any of theirs.
  const sentTo = `(SELECT CAST(substr(said, instr(said, ' ') + 1) AS INTEGER)
     FROM forwarding WHERE name = 'sent')`
  const forget = db.prepare(
    `DELETE FROM forwarding WHERE name GLOB '${LIFE}*'
     AND ${FIRST_ROW} < (${newestUpTo(sentTo, FIRST_ROW)})`,
  )
  let name = LIFE
  return () => {
    // Looked up each time: a transaction that failed takes along what was said in it.
    if (rowOf<{ said: string }>(find, name)?.said === mark) return
    forget.run()
    name = `${LIFE}${(rowOf<{ seq: number }>(findHighest)?.seq ?? 0) + 1}`
    say.run(name, mark)
  }
}

/** The mark of the process that put a row there; null: nobody said. */
export function lifeOf(db: Database): (row: number) => number | null {
  const find = db.prepare(newestUpTo('?', 'said'))
  return (row) => {
    const found = rowOf<{ said: string }>(find, BigInt(row))
    return found === null ? null : Number(found.said)
  }
}
