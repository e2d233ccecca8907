import { openHours } from './hour-columns.ts'
import type { Database } from './open-database.ts'

/** Keeps count of what hours stand for; in the transaction that changes them. */
export function thinnedTally(db: Database) {
  const add = db.prepare('UPDATE tally SET n = n + ? WHERE name = ?')

  function count(hours: Uint8Array, sign: 1 | -1, row?: number): void {
    const opened = openHours(hours, row)
    const kept = opened.channels.flatMap((channel) => opened.of(channel) ?? [])
    const values = kept.reduce((sum, { day }) => sum + day.n, 0)
    const rows = kept.flatMap((one) => one.hours.filter((hour) => hour !== null)).length
    for (const [name, n] of [
      ['thinned', opened.readings],
      ['thinned values', values],
      ['hours', rows],
      ['hour bytes', hours.length],
    ] as const) {
      add.run(BigInt(sign * n), name)
    }
  }
  return {
    /** A day was thinned. */
    came: (hours: Uint8Array): void => count(hours, 1),
    /** Its hours went, too; they lay with this block. */
    gone: (hours: Uint8Array, row: number): void => count(hours, -1, row),
  }
}
