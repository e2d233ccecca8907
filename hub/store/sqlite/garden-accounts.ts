import type { KeyRecord, PersonRecord, Scope, SessionRecord } from '../../model/account.ts'
import type { AccountRecords } from '../account-store.ts'
import { rowOf, rowsOf, transact } from './open-database.ts'
import type { Database } from './open-database.ts'

const PERSON = 'id, name, role, created_at AS createdAt, password_at AS passwordAt, hash'
const SESSION = 'id, person AS personId, started_at AS startedAt, seen_at AS seenAt, device, hash'
const KEY = `id, kind, name, scopes, bed AS bedId, made_at AS madeAt, ends_at AS endsAt,
  used_at AS usedAt, hash`

type KeyRow = Omit<KeyRecord, 'scopes'> & { readonly scopes: string }
const toKey = (row: KeyRow): KeyRecord => ({
  ...row,
  scopes: row.scopes.split(' ').filter((scope) => scope !== '') as Scope[],
})
/** Two people cannot be told apart by capitals. */
const nameKey = (name: string): string => name.normalize('NFKC').toLowerCase()

/** People, sessions and keys. */
export function gardenAccounts(db: Database) {
  const people = db.prepare(`SELECT ${PERSON} FROM person ORDER BY id`)
  const sessions = db.prepare(`SELECT ${SESSION} FROM session ORDER BY id`)
  const keys = db.prepare(`SELECT ${KEY} FROM access_key ORDER BY id`)
  const nameHolder = db.prepare('SELECT id FROM person WHERE name_key = ?')
  const addPerson = db.prepare(
    `INSERT INTO person (name, name_key, role, created_at, password_at, hash)
     VALUES (?, ?, ?, ?, ?, ?) RETURNING ${PERSON}`,
  )
  const changePerson = db.prepare(
    `UPDATE person SET name = ?, name_key = ?, role = ?, password_at = ?, hash = ? WHERE id = ?
     RETURNING ${PERSON}`,
  )
  const removePerson = db.prepare('DELETE FROM person WHERE id = ?')
  const sessionsGone = db.prepare('DELETE FROM session WHERE person = ?')
  const addSession = db.prepare(
    `INSERT INTO session (person, started_at, seen_at, device, hash) VALUES (?, ?, ?, ?, ?)
     RETURNING ${SESSION}`,
  )
  const seen = db.prepare('UPDATE session SET seen_at = ? WHERE id = ?')
  const removeSession = db.prepare('DELETE FROM session WHERE id = ?')
  const addKey = db.prepare(
    `INSERT INTO access_key (kind, name, scopes, bed, made_at, ends_at, used_at, hash)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING ${KEY}`,
  )
  const used = db.prepare('UPDATE access_key SET used_at = ? WHERE id = ?')
  const removeKey = db.prepare('DELETE FROM access_key WHERE id = ?')

  const isTaken = (name: string, by: number | null): boolean => {
    const holder = rowOf<{ id: number }>(nameHolder, nameKey(name))
    return holder !== null && holder.id !== by
  }
  return {
    accounts: (): AccountRecords => ({
      people: rowsOf<PersonRecord>(people),
      sessions: rowsOf<SessionRecord>(sessions),
      keys: rowsOf<KeyRow>(keys).map(toKey),
    }),
    addPerson: (p: Omit<PersonRecord, 'id'>): PersonRecord | null =>
      isTaken(p.name, null)
        ? null
        : rowOf<PersonRecord>(
            addPerson,
            p.name,
            nameKey(p.name),
            p.role,
            p.createdAt,
            p.passwordAt,
            p.hash,
          ),
    changePerson: (p: PersonRecord): PersonRecord | null =>
      isTaken(p.name, p.id)
        ? null
        : rowOf<PersonRecord>(
            changePerson,
            p.name,
            nameKey(p.name),
            p.role,
            p.passwordAt,
            p.hash,
            p.id,
          ),
    removePerson: (id: number): boolean =>
      transact(db, () => {
        sessionsGone.run(id)
        return removePerson.run(id).changes === 1
      }),
    addSession: (s: Omit<SessionRecord, 'id'>): SessionRecord =>
      rowOf<SessionRecord>(
        addSession,
        s.personId,
        s.startedAt,
        s.seenAt,
        s.device,
        s.hash,
      ) as SessionRecord,
    sessionSeen: (id: number, at: number): void => {
      seen.run(at, id)
    },
    removeSessions: (ids: readonly number[]): void =>
      transact(db, () => {
        for (const id of ids) removeSession.run(id)
      }),
    addKey: (k: Omit<KeyRecord, 'id'>): KeyRecord =>
      toKey(
        rowOf<KeyRow>(
          addKey,
          k.kind,
          k.name,
          k.scopes.join(' '),
          k.bedId,
          k.madeAt,
          k.endsAt,
          k.usedAt,
          k.hash,
        ) as KeyRow,
      ),
    keyUsed: (id: number, at: number): void => {
      used.run(at, id)
    },
    removeKeys: (ids: readonly number[]): void =>
      transact(db, () => {
        for (const id of ids) removeKey.run(id)
      }),
  }
}
