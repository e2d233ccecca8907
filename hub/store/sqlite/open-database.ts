import * as sqlite from 'node:sqlite'
import type { DatabaseSync, SQLInputValue, StatementSync } from 'node:sqlite'

export type Database = DatabaseSync
export type Statement = StatementSync

/** The class has two names, one of which each Node release knows. */
export const Engine: typeof DatabaseSync =
  (sqlite as { Database?: typeof DatabaseSync }).Database ?? sqlite.DatabaseSync

/** For so long a connection waits for another one to let go, ms. */
export const BUSY_MS = 5000

/**
 * Opens (and creates, unless read-only) a database file. Every commit is on the disk before it returns.
 * Blocks the calling thread, as every call on the result does.
 */
export function openDatabase(
  file: string,
  options: {
    /** @default false */
    readOnly?: boolean
    /** Page cache, KiB. @default 8192 */
    cacheKiB?: number
  } = {},
): Database {
  const readOnly = options.readOnly ?? false
  const db = new Engine(file, { readOnly, timeout: BUSY_MS })
  try {
    db.exec(`PRAGMA cache_size = -${options.cacheKiB ?? 8192}`)
    if (!readOnly) {
      // Emptied pages can be given back while it is in use. Of a new file only: another one would be written to,
      // though it may be of a newer version and is to be left as it is.
      const pages = rowOf<{ page_count: number }>(db.prepare('PRAGMA page_count'))?.page_count
      if (pages === 0) db.exec('PRAGMA auto_vacuum = INCREMENTAL')
      db.exec('PRAGMA journal_mode = WAL')
      db.exec('PRAGMA synchronous = FULL')
      db.exec('PRAGMA wal_autocheckpoint = 4000')
    }
  } catch (error) {
    db.close()
    throw error
  }
  return db
}

/** Runs `work` in one transaction: all of it is stored, or none and the error goes on. */
export function transact<T>(db: Database, work: () => T): T {
  db.exec('BEGIN IMMEDIATE')
  try {
    const result = work()
    db.exec('COMMIT')
    return result
  } catch (error) {
    // A full disk makes the engine roll back by itself.
    if (db.isTransaction) db.exec('ROLLBACK')
    throw error
  }
}

/** All rows of a query, as the caller knows them to be. */
export function rowsOf<Row>(statement: Statement, ...values: SQLInputValue[]): Row[] {
  return statement.all(...values) as unknown as Row[]
}

/** The first row, or null. */
export function rowOf<Row>(statement: Statement, ...values: SQLInputValue[]): Row | null {
  return (statement.get(...values) ?? null) as Row | null
}
