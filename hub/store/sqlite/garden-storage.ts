import { DAY } from '../../model/clock.ts'
import type { Retention, StorageDay } from '../../model/storage.ts'
import { rowOf, rowsOf } from './open-database.ts'
import type { Database } from './open-database.ts'

/** A year, and the same month of the year before. */
const KEPT_MS = 400 * DAY

/** How long raw readings are kept, and how full the disk was day by day. */
export function gardenStorage(db: Database) {
  const find = db.prepare('SELECT raw_months AS rawMonths, decided_at AS decidedAt FROM retention')
  const set = db.prepare('UPDATE retention SET raw_months = ?, decided_at = ?')
  const days = db.prepare(
    `SELECT at, used_bytes AS usedBytes, free_bytes AS freeBytes, total_bytes AS totalBytes, readings
     FROM storage_day ORDER BY day`,
  )
  const put = db.prepare('INSERT OR REPLACE INTO storage_day VALUES (?, ?, ?, ?, ?, ?)')
  const prune = db.prepare('DELETE FROM storage_day WHERE at < ?')

  const retention = (): Retention => rowOf<Retention>(find)!
  return {
    retention,
    setRetention({ rawMonths, decidedAt }: Retention): Retention {
      set.run(rawMonths === null ? null : BigInt(rawMonths), decidedAt)
      return retention()
    },
    storageDays: (): StorageDay[] => rowsOf<StorageDay>(days),
    noteStorageDay({ at, usedBytes, freeBytes, totalBytes, readings }: StorageDay): void {
      put.run(BigInt(Math.floor(at / DAY)), at, usedBytes, freeBytes, totalBytes, readings)
      prune.run(at - KEPT_MS)
    },
  }
}
