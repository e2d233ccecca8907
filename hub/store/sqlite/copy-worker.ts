import { closeSync, fsyncSync, openSync } from 'node:fs'
import { schemaVersion } from './migrate.ts'
import { Engine, openDatabase, rowOf } from './open-database.ts'
import { serve } from './serve.ts'

/** What a database file was found to be. */
export interface DatabaseFacts {
  /** Number of the last migration that ran on it. */
  readonly layout: number
  /** Null when it is whole, else what the engine complains about. */
  readonly damage: string | null
}

/**
 * A copy of readings that go on to an InfluxDB knows that it is one: what came after it was made is there and not
 * here, and has to be read back before anything new is taken in.
 */
function markAsCopy(file: string): void {
  const db = new Engine(file)
  try {
    const goesOn = db.prepare(`SELECT 1 FROM sqlite_schema WHERE name = 'forwarding'`).get()
    if (goesOn === undefined || db.prepare('SELECT 1 FROM forwarding').get() === undefined) return
    db.exec(`INSERT OR REPLACE INTO forwarding VALUES ('copied', 'yes')`)
  } finally {
    db.close()
  }
}

function openCopier() {
  return {
    /** Copies a database as it is at one moment to a file that is empty or not there yet; others go on writing meanwhile. */
    copy(from: string, to: string): { readonly layout: number } {
      const db = openDatabase(from, { readOnly: true })
      try {
        db.prepare('VACUUM INTO ?').run(to)
        markAsCopy(to)
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
        // Ours have none; in one that comes from elsewhere they would act as soon as something is stored.
        const acting = rowOf<{ type: string; name: string }>(
          db.prepare(
            `SELECT type, name FROM sqlite_schema WHERE type IN ('trigger', 'view') LIMIT 1`,
          ),
        )
        const layout = schemaVersion(db)
        if (said !== 'ok') return { layout, damage: said }
        if (acting !== null) {
          const what = `it holds a ${acting.type} (${JSON.stringify(acting.name)}), which no hub has made`
          return { layout, damage: what }
        }
        return { layout, damage: layout === 0 ? 'it holds nothing' : null }
      } finally {
        db.close()
      }
    },
    /** The id of the hub whose records these are; null: none was made yet. */
    hubId(file: string): string | null {
      const db = openDatabase(file, { readOnly: true })
      try {
        const table = db.prepare(`SELECT 1 FROM sqlite_schema WHERE name = 'hub_own'`).get()
        if (table === undefined) return null
        const own = db.prepare(`SELECT value FROM hub_own WHERE name = 'hub-id'`)
        return rowOf<{ value: string }>(own)?.value ?? null
      } finally {
        db.close()
      }
    },
    close(): void {},
  }
}

export type CopierApi = ReturnType<typeof openCopier>

serve<{ readonly file: string }>(() => openCopier())
