import { closeSync, fsyncSync, openSync } from 'node:fs'
import { schemaVersion } from './migrate.ts'
import { openDatabase, rowOf } from './open-database.ts'
import { serve } from './serve.ts'

/** What a database file was found to be. */
export interface DatabaseFacts {
  /** Number of the last migration that ran on it. */
  readonly layout: number
  /** Null when it is whole, else what the engine complains about. */
  readonly damage: string | null
}

function openCopier() {
  return {
    /** Copies a database as it is at one moment to a file that is not there yet; others go on writing meanwhile. */
    copy(from: string, to: string): { readonly layout: number } {
      const db = openDatabase(from, { readOnly: true })
      try {
        db.prepare('VACUUM INTO ?').run(to)
        const file = openSync(to, 'r+')
        try {
          fsyncSync(file)
        } finally {
          closeSync(file)
        }
      } finally {
        db.close()
      }
      const made = openDatabase(to, { readOnly: true })
      try {
        return { layout: schemaVersion(made) }
      } finally {
        made.close()
      }
    },
    examine(file: string): DatabaseFacts {
      const db = openDatabase(file, { readOnly: true })
      try {
        const answer = rowOf<{ quick_check: string }>(db.prepare('PRAGMA quick_check(1)'))
        const said = answer?.quick_check ?? 'no answer'
        return { layout: schemaVersion(db), damage: said === 'ok' ? null : said }
      } finally {
        db.close()
      }
    },
    close(): void {},
  }
}

export type CopierApi = ReturnType<typeof openCopier>

serve<{ readonly file: string }>(() => openCopier())
