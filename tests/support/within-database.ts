import { DatabaseSync } from 'node:sqlite'

/** Works on a file that nobody has open, as whatever changes it behind the hub's back does. */
export function withinDatabase<T>(file: string, work: (db: DatabaseSync) => T): T {
  const db = new DatabaseSync(file)
  try {
    return work(db)
  } finally {
    db.close()
  }
}
