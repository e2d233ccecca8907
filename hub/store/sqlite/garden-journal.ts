import { rowOf, rowsOf } from './open-database.ts'
import type { JournalEntry, NewJournalEntry } from '../../model/journal.ts'
import type { Database } from './open-database.ts'

const ENTRY = `id, bed AS bedId, at, kind, material, amount_g AS amountG, water_l AS waterL, probe, ph,
  method, text, by_name AS by`

const valuesOf = (entry: NewJournalEntry) =>
  [
    entry.bedId,
    entry.at,
    entry.kind,
    entry.material,
    entry.amountG,
    entry.waterL,
    entry.probe,
    entry.ph,
    entry.method,
    entry.text,
    entry.by ?? null,
  ] as const

/** The gardener's journal. */
export function gardenJournal(db: Database) {
  const find = db.prepare(
    `SELECT ${ENTRY} FROM journal WHERE (?1 IS NULL OR bed = ?1) AND (?2 IS NULL OR at >= ?2)
     AND (?3 IS NULL OR at < ?3) ORDER BY at, id`,
  )
  const findOne = db.prepare(`SELECT ${ENTRY} FROM journal WHERE id = ?`)
  const add = db.prepare(
    `INSERT INTO journal (bed, at, kind, material, amount_g, water_l, probe, ph, method, text, by_name)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING ${ENTRY}`,
  )
  const change = db.prepare(
    `UPDATE journal SET bed = ?, at = ?, kind = ?, material = ?, amount_g = ?, water_l = ?,
     probe = ?, ph = ?, method = ?, text = ?, by_name = ? WHERE id = ? RETURNING ${ENTRY}`,
  )
  const drop = db.prepare('DELETE FROM journal WHERE id = ?')

  return {
    journal: (range: { bedId?: number; from?: number; to?: number }): JournalEntry[] =>
      rowsOf<JournalEntry>(find, range.bedId ?? null, range.from ?? null, range.to ?? null),
    entry: (id: number): JournalEntry | null => rowOf<JournalEntry>(findOne, id),
    addEntry: (entry: NewJournalEntry): JournalEntry =>
      rowOf<JournalEntry>(add, ...valuesOf(entry)) as JournalEntry,
    changeEntry: (id: number, entry: NewJournalEntry): JournalEntry | null =>
      rowOf<JournalEntry>(change, ...valuesOf(entry), id),
    removeEntry: (id: number): boolean => drop.run(id).changes === 1,
  }
}
