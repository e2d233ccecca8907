import { rowOf, rowsOf } from './open-database.ts'
import type { Quarantined } from '../../model/reading.ts'
import type { Database } from './open-database.ts'

/**
 * What quarantine may hold, bytes: a quarter of a million short messages, more than anybody reads, and nothing that
 * fills a disk.
 */
const MOST_BYTES = 64 * 1024 * 1024
/** What a row takes beside its texts: its key, its time, its place in an index. */
const ROW_BYTES = 64
/** Rows that leave in one transaction, beside as many as came: a file of an older hub may hold any number. */
const MOST_AT_ONCE = 1000
/** To make room among contradictions all of them are looked through: then for a while to come. */
const ROOM = 1 / 16

const BYTES = `(octet_length(topic) + octet_length(payload) + octet_length(reason) +
  2 * coalesce(octet_length(same), 0) + ${ROW_BYTES})`
/** Names in `tally`: bytes held, rows that had to leave, and the row up to which no message is left. */
const HELD = 'quarantine bytes'
const DROPPED = 'quarantine dropped'
const FROM = 'quarantine from'

/** A reading that came again with other content. */
export interface Contradiction extends Quarantined {
  /** The reading, `probe/boot/seq`, stands as its topic; this tells one content of it from another. */
  readonly same: string
}

export interface Quarantine {
  /** Keeps a message. */
  readonly add: (message: Quarantined) => void
  /** Keeps a contradiction; false when this very content is there already. */
  readonly contradict: (contradiction: Contradiction) => boolean
  /** Lets go of what is too much; once in each transaction that adds. */
  readonly trim: () => void
}

/**
 * Keeps the newest of what nobody could use, and counts what had to leave; all of it within the transaction of whoever
 * calls. Messages leave first, the oldest before the others. Contradictions are what is known of readings, so they go
 * last, and those of the probe that has most of them first: no probe and no stranger pushes out what is of another.
 *
 * @param mostBytes what it may hold. @default 64 MiB
 */
export function quarantine(db: Database, mostBytes = MOST_BYTES): Quarantine {
  const addMessage = db.prepare(
    'INSERT INTO quarantine (arrived_at, topic, payload, reason) VALUES (?, ?, ?, ?)',
  )
  const addContradiction = db.prepare(
    `INSERT INTO quarantine (arrived_at, topic, payload, reason, same) VALUES (?, ?, ?, ?, ?)
     ON CONFLICT (same) DO NOTHING`,
  )
  const findBytes = db.prepare(`SELECT ${BYTES} AS bytes FROM quarantine WHERE id = ?`)
  const findAll = db.prepare(`SELECT coalesce(sum(${BYTES}), 0) AS bytes FROM quarantine`)
  const findTally = db.prepare('SELECT n FROM tally WHERE name = ?')
  const setTally = db.prepare(
    'INSERT INTO tally VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET n = excluded.n',
  )
  const findMessages = db.prepare(
    `SELECT id, ${BYTES} AS bytes FROM quarantine WHERE same IS NULL AND id > ? ORDER BY id`,
  )
  const findMost = db.prepare(
    `SELECT substr(topic, 1, instr(topic, '/')) AS probe FROM quarantine WHERE same IS NOT NULL
     GROUP BY probe ORDER BY sum(${BYTES}) DESC LIMIT 1`,
  )
  const findContradictions = db.prepare(
    `SELECT id, ${BYTES} AS bytes FROM quarantine
     WHERE same IS NOT NULL AND substr(topic, 1, instr(topic, '/')) = ? ORDER BY id`,
  )
  const findLast = db.prepare('SELECT coalesce(max(id), 0) AS id FROM quarantine')
  const drop = db.prepare('DELETE FROM quarantine WHERE id = ?')
  const numberOf = (name: string): number | null => rowOf<{ n: number }>(findTally, name)?.n ?? null
  const heldBytes = (): number => numberOf(HELD) ?? rowOf<{ bytes: number }>(findAll)?.bytes ?? 0

  /** Added since the last `trim`; what a transaction that failed added was counted in vain, and then again. */
  let came = 0

  function noteAdded(id: number | bigint, before: number): void {
    came++
    const { bytes = 0 } = rowOf<{ bytes: number }>(findBytes, Number(id)) ?? {}
    setTally.run(HELD, BigInt(before + bytes))
  }

  return {
    add({ arrivedAt, topic, payload, reason }) {
      const before = heldBytes()
      noteAdded(addMessage.run(arrivedAt, topic, payload, reason).lastInsertRowid, before)
    },
    contradict({ arrivedAt, topic, payload, reason, same }) {
      const before = heldBytes()
      const put = addContradiction.run(arrivedAt, topic, payload, reason, same)
      if (put.changes === 0) return false
      noteAdded(put.lastInsertRowid, before)
      return true
    },
    trim() {
      if (came === 0) return
      const most = MOST_AT_ONCE + 2 * came
      came = 0
      let held = heldBytes()
      if (held <= mostBytes) return
      let dropped = 0

      function leave(rows: readonly { id: number; bytes: number }[], until: number): void {
        for (const { id, bytes } of rows) {
          if (held <= until || dropped >= most) return
          drop.run(id)
          held -= bytes
          dropped++
        }
      }
      const from = numberOf(FROM) ?? 0
      const messages: { id: number; bytes: number }[] = []
      let found = 0
      let all = true
      for (const row of findMessages.iterate(from) as Iterable<{ id: number; bytes: number }>) {
        messages.push(row)
        found += row.bytes
        if (held - found > mostBytes && messages.length < most) continue
        all = false
        break
      }
      // Rows get ascending ids for ever: below the last one there is no message any more.
      const last = all ? rowOf<{ id: number }>(findLast)?.id : messages.at(-1)?.id
      setTally.run(FROM, BigInt(last ?? from))
      leave(messages, mostBytes)
      while (held > mostBytes && dropped < most) {
        const probe = rowOf<{ probe: string }>(findMost)?.probe
        if (probe === undefined) break
        const until = mostBytes * (1 - ROOM)
        const rows = rowsOf<{ id: number; bytes: number }>(findContradictions, probe)
        leave(rows, Math.max(until, held - rows.reduce((sum, { bytes }) => sum + bytes, 0) / 2))
      }
      setTally.run(HELD, BigInt(held))
      setTally.run(DROPPED, BigInt((numberOf(DROPPED) ?? 0) + dropped))
    },
  }
}
