import { BUSY_MS, rowOf } from './open-database.ts'
import type { Database } from './open-database.ts'

/** Pages given back in one transaction: a few milliseconds, then the next readings have their turn. */
const PAGES = 64
/** What `PRAGMA auto_vacuum` says of a file that can give pages back while it is in use. */
const INCREMENTAL = 2

export interface Pages {
  readonly pageBytes: number
  readonly all: number
  readonly empty: number
  readonly shrinks: boolean
}

export function pagesOf(db: Database): Pages {
  const pragma = (name: string): number =>
    Object.values(rowOf<Record<string, number>>(db.prepare(`PRAGMA ${name}`)) ?? {})[0] ?? 0
  return {
    pageBytes: pragma('page_size'),
    all: pragma('page_count'),
    empty: pragma('freelist_count'),
    shrinks: pragma('auto_vacuum') === INCREMENTAL,
  }
}

/** Gives emptied pages back to the disk. */
export function shrinking(db: Database) {
  return {
    /** Gives some back; tells how many bytes these were, and how many pages are still to go. */
    some(): { readonly bytes: number; readonly left: number } {
      const before = pagesOf(db)
      if (!before.shrinks || before.empty === 0) return { bytes: 0, left: 0 }
      db.exec(`PRAGMA incremental_vacuum(${PAGES})`)
      const after = pagesOf(db)
      return { bytes: (before.all - after.all) * before.pageBytes, left: after.empty }
    },
    /** Empties the write-ahead log into the file, which gets shorter only then; does nothing while somebody reads. */
    checkpoint(): void {
      // A backup may read for minutes: readings that come must not wait for it.
      db.exec('PRAGMA busy_timeout = 0')
      try {
        db.exec('PRAGMA wal_checkpoint(TRUNCATE)')
      } finally {
        db.exec(`PRAGMA busy_timeout = ${BUSY_MS}`)
      }
    },
    /**
     * Writes the whole file anew, so that from now on it can give pages back while it is in use. Takes as much room
     * again and as long as that takes.
     */
    whole(): { readonly bytes: number } {
      const before = pagesOf(db)
      db.exec('PRAGMA auto_vacuum = INCREMENTAL')
      db.exec('VACUUM')
      const after = pagesOf(db)
      return { bytes: (before.all - after.all) * before.pageBytes }
    },
  }
}
