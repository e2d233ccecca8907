import type { JournalEntry, NewJournalEntry } from '../../model/journal.ts'
import type { Sent, SentBefore } from '../garden-store.ts'
import { rowOf, transact } from './open-database.ts'
import type { Database } from './open-database.ts'

/** A phone may lie in a shed for a season before it sends again. */
const KEPT_MS = 400 * 86_400_000

/** Entries that come with a key of their own. `addEntry` writes in the journal. */
export function gardenSent(db: Database, addEntry: (entry: NewJournalEntry) => JournalEntry) {
  const find = db.prepare('SELECT digest, answer FROM sent_once WHERE key = ?')
  const add = db.prepare('INSERT INTO sent_once (key, digest, at, answer) VALUES (?, ?, ?, ?)')
  const prune = db.prepare('DELETE FROM sent_once WHERE at < ?')

  function sentBefore(key: string): SentBefore | null {
    const row = rowOf<{ digest: string; answer: string }>(find, key)
    return row === null
      ? null
      : { digest: row.digest, entry: JSON.parse(row.answer) as JournalEntry }
  }
  return {
    sentBefore,
    addEntryOnce: (
      entry: NewJournalEntry,
      { key, digest, at }: Sent,
    ): SentBefore & { readonly again: boolean } =>
      transact(db, () => {
        const before = sentBefore(key)
        if (before !== null) return { ...before, again: true }
        const stored = addEntry(entry)
        prune.run(at - KEPT_MS)
        add.run(key, digest, at, JSON.stringify(stored))
        return { digest, entry: stored, again: false }
      }),
  }
}
