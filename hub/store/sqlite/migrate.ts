import { readFileSync, readdirSync } from 'node:fs'
import { HubError } from '../../errors.ts'
import { rowOf, transact } from './open-database.ts'
import type { Database } from './open-database.ts'

/** Version of the database: the number of the last migration that ran on it. */
export function schemaVersion(db: Database): number {
  return rowOf<{ user_version: number }>(db.prepare('PRAGMA user_version'))?.user_version ?? 0
}

/** The migrations of a folder, ascending. */
function stepsIn(folder: URL): readonly { readonly name: string; readonly version: number }[] {
  return readdirSync(folder)
    .filter((name) => /^\d{3}-[a-z0-9-]+\.sql$/.test(name))
    .sort()
    .map((name) => ({ name, version: Number(name.slice(0, 3)) }))
}

/** Number of the newest layout of a database that this hub knows. */
export function newestLayout(database: 'garden' | 'readings'): number {
  return stepsIn(new URL(`../migrations/${database}/`, import.meta.url)).at(-1)?.version ?? 0
}

/**
 * Brings the database to the newest `NNN-what.sql` of a folder, all missing files in one transaction: when
 * one fails, the database is as it was and the release before can still open it. A database that is newer
 * than the folder is refused and left as it is.
 *
 * @param code what SQL cannot do, by the number of the file it follows, in the same transaction
 */
export function migrate(
  db: Database,
  folder: URL,
  file: string,
  code: Readonly<Record<number, (db: Database) => void>> = {},
): void {
  const steps = stepsIn(folder)
  const newest = steps.at(-1)?.version ?? 0
  const present = schemaVersion(db)
  if (present > newest) {
    throw new HubError(
      'HUB_STORE_UNAVAILABLE',
      `${file} was written by a newer Loamline (its layout is number ${present}, this one knows up to ` +
        `${newest}). Start the newer version, or restore a copy made before the upgrade.`,
      { retry: false },
    )
  }
  const missing = steps.filter(({ version }) => version > present)
  if (missing.length === 0) return
  transact(db, () => {
    for (const { name, version } of missing) {
      db.exec(readFileSync(new URL(name, folder), 'utf8'))
      code[version]?.(db)
    }
    db.exec(`PRAGMA user_version = ${newest}`)
  })
}
