import { sealedHours } from './hour-columns.ts'
import { rowsOf } from './open-database.ts'
import { SEAL_BYTES } from './seal.ts'
import type { Database } from './open-database.ts'

/** Rows in memory at once. */
const SOME = 500

/**
 * Second half of migration 007: seals the hours of all thinned days. Those that cannot be read stay as they are; whoever
 * meets them puts them aside.
 */
export function sealHours(db: Database): void {
  const findSome = db.prepare(
    `SELECT id, hours FROM block WHERE id > ? AND thinned = 1 AND length(hours) > 0
     ORDER BY id LIMIT ${SOME}`,
  )
  const put = db.prepare('UPDATE block SET hours = ? WHERE id = ?')
  let sealed = 0
  for (let last = 0; ;) {
    const some = rowsOf<{ id: number; hours: Uint8Array }>(findSome, last)
    if (some.length === 0) break
    for (const { id, hours } of some) {
      last = id
      const whole = sealedHours(hours)
      if (whole === null) continue
      put.run(whole, id)
      sealed++
    }
  }
  db.prepare(`UPDATE tally SET n = n + ? WHERE name = 'hour bytes'`).run(
    BigInt(SEAL_BYTES * sealed),
  )
}
