import { decodeBlock } from './block.ts'
import { dailyRows } from './daily-rows.ts'
import { openHours } from './hour-columns.ts'
import { rowOf, transact } from './open-database.ts'
import { DAY } from '../../model/clock.ts'
import type { Settled } from '../reading-store.ts'
import type { OpenPart } from './damaged-parts.ts'
import type { KeptReading } from './kept-reading.ts'
import type { Database } from './open-database.ts'
import type { Settling } from './settling.ts'

/** Looking at what somebody met damaged, and settling what lies in the table `damaged`. */
export function damageWriter(
  db: Database,
  options: {
    readonly settle: Pick<Settling, 'learn' | 'forget'>
    readonly undamaged: <T>(work: () => T) => T
    /** Readings are there again. */
    readonly settled: (settled: Settled) => void
    /** A row came to the log. */
    readonly logged: (row: number, readings: number) => void
  },
) {
  const { settle, undamaged } = options
  const findBlock = db.prepare('SELECT thinned, body, hours FROM block WHERE id = ?')
  const setGone = db.prepare(
    `UPDATE damaged SET body = x'', settled_at = ?, outcome = 'gone'
     WHERE id = ? AND outcome IS NULL`,
  )
  const setBack = db.prepare('UPDATE damaged SET back = max(back, ?) WHERE id = ?')
  const settleBack = db.prepare(
    `UPDATE damaged SET body = x'', settled_at = ?, outcome = 'back'
     WHERE id = ? AND outcome IS NULL AND back >= n`,
  )
  const addLog = db.prepare('INSERT INTO log (readings, body) VALUES (?, ?)')
  const findDay = db.prepare(
    `SELECT block.id, probe, length(hours) AS bytes FROM block
     WHERE probe = (SELECT id FROM probe WHERE name = ?) AND start >= ? AND start < ?
       AND thinned = 1 AND hours IS NOT NULL ORDER BY start LIMIT 1`,
  )
  const setHours = db.prepare('UPDATE block SET hours = ? WHERE id = ?')
  const addTally = db.prepare(`UPDATE tally SET n = n + ? WHERE name = 'hour bytes'`)
  const daily = dailyRows(db)

  function foundAgain(id: number, readings: number, at: number): void {
    setBack.run(BigInt(readings), BigInt(id))
    settleBack.run(BigInt(Math.round(at)), BigInt(id))
  }

  return {
    /** Puts those of these blocks aside that really are damaged. */
    lookAt(blocks: readonly number[]): void {
      for (const id of blocks) {
        undamaged(() => {
          const row = rowOf<{ thinned: number; body: Uint8Array; hours: Uint8Array | null }>(
            findBlock,
            BigInt(id),
          )
          if (row === null) return
          decodeBlock(row.body, id)
          if (row.thinned === 1 && row.hours !== null) openHours(row.hours, id)
        })
      }
    },
    damageGone: (id: number, at: number): boolean =>
      setGone.run(BigInt(Math.round(at)), BigInt(id)).changes > 0,
    /** Readings of a part that another file has; returns how many were not known. They were counted when they came. */
    putBack(
      { id, probe, thinned }: OpenPart & { readonly probe: string },
      readings: readonly KeptReading[],
      at: number,
    ): number {
      // An InfluxDB that came later does not have them. Names of a day that has become hours are no readings there.
      const how = { counted: true, told: !thinned }
      const came = undamaged(() => settle.learn(probe, readings, how))
      foundAgain(id, readings.length, at)
      if (came > 0) {
        const times = readings.map(({ t }) => t)
        options.settled({ probes: [probe], from: Math.min(...times), to: Math.max(...times) })
      }
      return came
    },
    /** A row of the log that another file has; it is settled like one that came just now. */
    putBackBatch(id: number, body: Uint8Array, readings: number, at: number): void {
      const row = transact(db, () => {
        const { lastInsertRowid } = addLog.run(BigInt(readings), body)
        foundAgain(id, readings, at)
        return Number(lastInsertRowid)
      })
      options.logged(row, readings)
    },
    /** What stands for a thinned day, as another file has it; false when the day is not there any more. */
    putBackHours(
      id: number,
      of: { readonly probe: string; readonly day: number; readonly readings: number },
      hours: Uint8Array,
      at: number,
    ): boolean {
      return undamaged(() => {
        settle.forget()
        return transact(db, () => {
          const row = rowOf<{ id: number; probe: number; bytes: number }>(
            findDay,
            of.probe,
            BigInt(of.day),
            BigInt(of.day + DAY),
          )
          if (row === null) return false
          setHours.run(hours, row.id)
          addTally.run(BigInt(hours.length - row.bytes))
          daily.remake(row.probe, of.day)
          foundAgain(id, of.readings, at)
          return true
        })
      })
    },
  }
}
