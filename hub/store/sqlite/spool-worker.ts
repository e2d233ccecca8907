import { randomBytes } from 'node:crypto'
import { migrate } from './migrate.ts'
import { openDatabase, rowOf, rowsOf, transact } from './open-database.ts'
import { packMessages, unpackMessages, messageOf } from './packed-messages.ts'
import { Parcel, serve } from './serve.ts'
import type { SpoolState } from '../spool-store.ts'
import type { PackedMessages } from './packed-messages.ts'

interface MessageRow {
  readonly i: number
  readonly topic: string
  readonly payload: Uint8Array
  readonly arrivedAt: number
  readonly flags: number
  readonly refused: string | null
}
interface Head {
  readonly id: string
  readonly base: number
  readonly delivered: number
  readonly taken: number
}

/** Rows deleted in one transaction: what an append may have to wait for. */
const SLICE = 2000
/** Pages given back to the disk at a time. */
const PAGES = 2000

const newId = (): string => randomBytes(6).toString('hex')

function openSpool(file: string) {
  const db = openDatabase(file)
  if ((rowOf<{ n: number }>(db.prepare('SELECT count(*) AS n FROM sqlite_schema'))?.n ?? 0) === 0) {
    // Room is given back to the disk after a long time without the log; only a new file can be told so.
    db.exec('PRAGMA auto_vacuum = INCREMENTAL')
    db.exec('VACUUM')
  }
  migrate(db, new URL('../migrations/spool/', import.meta.url), file)
  db.exec(`INSERT INTO spool SELECT '${newId()}', 0, 0, 0 WHERE NOT EXISTS (SELECT * FROM spool)`)

  const add = db.prepare(
    'INSERT INTO message (topic, payload, arrived_at, flags, refused) VALUES (?, ?, ?, ?, ?)',
  )
  const find = db.prepare(
    `SELECT i, topic, payload, arrived_at AS arrivedAt, flags, refused FROM message
     WHERE i > ? ORDER BY i LIMIT ?`,
  )
  const findHead = db.prepare('SELECT id, base, delivered, taken FROM spool')
  const findLast = db.prepare(`SELECT seq FROM sqlite_sequence WHERE name = 'message'`)
  const findOldest = db.prepare(
    'SELECT arrived_at AS at FROM message WHERE i > ? ORDER BY i LIMIT 1',
  )
  const setDelivered = db.prepare('UPDATE spool SET delivered = max(taken, CAST(? AS INT))')
  const setTaken = db.prepare('UPDATE spool SET taken = max(taken, CAST(? AS INT))')
  const rename = db.prepare('UPDATE spool SET id = ?, base = taken, delivered = taken')
  const drop = db.prepare(
    `DELETE FROM message WHERE i IN (SELECT i FROM message WHERE i <= ? ORDER BY i LIMIT ${SLICE})`,
  )
  const findTopics = db.prepare('SELECT topic FROM listening ORDER BY topic')
  const addTopic = db.prepare('INSERT OR IGNORE INTO listening VALUES (?)')
  const head = (): Head => rowOf<Head>(findHead)!
  const last = (): number => rowOf<{ seq: number }>(findLast)?.seq ?? 0
  const pragma = (name: string): number =>
    Object.values(rowOf<Record<string, number>>(db.prepare(`PRAGMA ${name}`)) ?? {})[0] ?? 0

  return {
    append(messages: PackedMessages): void {
      transact(db, () => {
        for (const m of unpackMessages(messages))
          add.run(m.topic, m.payload, m.arrivedAt, m.flags, m.refused)
      })
    },
    after(row: number, limit: number): Parcel<{ from: number; messages: PackedMessages }> {
      const { base } = head()
      const rows = rowsOf<MessageRow>(find, row + base, limit)
      const messages = packMessages(rows.map(messageOf))
      return new Parcel({ from: (rows[0]?.i ?? 0) - base, messages }, [
        messages.numbers.buffer,
        messages.bytes.buffer,
      ])
    },
    delivered(row: number): void {
      setDelivered.run(row + head().base)
    },
    /** Deletes one slice; true when there is more. */
    taken(row: number): boolean {
      const { base } = head()
      setTaken.run(row + base)
      const { taken, delivered } = head()
      const { changes } = drop.run(Math.min(taken, delivered))
      if (changes === SLICE) return true
      if (pragma('freelist_count') > PAGES) db.exec(`PRAGMA incremental_vacuum(${PAGES})`)
      return false
    },
    renew(): void {
      rename.run(newId())
    },
    state(): SpoolState {
      const { id, base, delivered, taken } = head()
      return {
        id,
        last: last() - base,
        delivered: delivered - base,
        taken: taken - base,
        oldestWaitingAt: rowOf<{ at: number }>(findOldest, delivered)?.at ?? null,
        bytes: pragma('page_count') * pragma('page_size'),
      }
    },
    listening: (): string[] => rowsOf<{ topic: string }>(findTopics).map(({ topic }) => topic),
    setListening(topics: readonly string[]): void {
      transact(db, () => {
        db.exec('DELETE FROM listening')
        for (const topic of topics) addTopic.run(topic)
      })
    },
    close: (): void => db.close(),
  }
}

export type SpoolApi = ReturnType<typeof openSpool>

serve<{ readonly file: string }>(({ file }) => openSpool(file))
