import { keptReadings } from '../sqlite/kept-readings.ts'
import { rowOf, transact } from '../sqlite/open-database.ts'
import { lineOf } from './point.ts'
import type { WalkAt } from '../sqlite/kept-readings.ts'
import type { Database } from '../sqlite/open-database.ts'
import type { KeptReading } from '../sqlite/kept-reading.ts'

/** What became of one sending. */
export interface Delivery {
  /** Rows it took, from and to. */
  readonly from: number
  readonly to: number
  /** Those of them that the server did not take, and why. */
  readonly refused: readonly { readonly i: number; readonly why: string }[]
}

/** What a folder remembers of the InfluxDB its readings go to. */
export interface FolderMemory {
  /** The name under which it tells InfluxDB how far it is; null: it has not told it anything yet. */
  readonly folder: string | null
  /** It is a copy: what came after the copy was made may be there and not here. */
  readonly copied: boolean
  /** It holds readings. */
  readonly any: boolean
}

/** Readings put into the queue in one transaction. */
const SLICE = 2000

/**
 * The readings on their way to an InfluxDB, at the side that writes. They are put there in the transaction that
 * keeps them and go in the one that knows they are delivered: whatever ends in between, a reading is sent twice at
 * worst, and the second time is the same point.
 */
export function undelivered(db: Database) {
  const add = db.prepare(
    'INSERT OR REPLACE INTO undelivered (probe, t, timed, line) VALUES (?, ?, ?, ?)',
  )
  const drop = db.prepare('DELETE FROM undelivered WHERE i BETWEEN ? AND ? AND refused IS NULL')
  const refuse = db.prepare('UPDATE undelivered SET refused = ? WHERE i = ?')
  const prune = db.prepare('DELETE FROM undelivered WHERE t < ?')
  const retry = db.prepare('UPDATE undelivered SET refused = NULL WHERE refused IS NOT NULL')
  const say = db.prepare('INSERT OR REPLACE INTO forwarding VALUES (?, ?)')
  const said = db.prepare('SELECT said FROM forwarding WHERE name = ?')
  const anySaid = db.prepare('SELECT 1 FROM forwarding')
  const forget = db.prepare('DELETE FROM forwarding')
  const anything = db.prepare(`SELECT 1 FROM tally WHERE name = 'readings' AND n > 0`)
  const walk = keptReadings(db)

  const keep = (probe: string, readings: readonly KeptReading[]): void => {
    for (const reading of readings) {
      const timed = reading.placedBy === 'bounded' ? 0 : 1
      add.run(probe, reading.t, timed, lineOf(probe, reading))
    }
  }

  return {
    /** Within the transaction that keeps the readings. */
    keep,
    /** The readings are kept here alone from now on: an InfluxDB that is set again later gets all of them anew. */
    part(): void {
      if (rowOf(anySaid) === null) return
      transact(db, () => {
        forget.run()
        db.exec('DELETE FROM undelivered')
      })
    },
    handlers: {
      delivered({ from, to, refused }: Delivery): void {
        transact(db, () => {
          for (const { i, why } of refused) refuse.run(why, i)
          drop.run(from, to)
        })
      },
      /** What was refused is tried once more: somebody may have mended what was wrong with it. */
      tryRefused: (): void => void retry.run(),
      pruneUndelivered: (before: number): void => void prune.run(before),
      folderMemory: (): FolderMemory => ({
        folder: rowOf<{ said: string }>(said, 'folder')?.said ?? null,
        copied: rowOf(said, 'copied') !== null,
        any: rowOf(anything) !== null,
      }),
      /** From now on this folder and that InfluxDB belong together under this name. */
      setFolder(name: string): void {
        transact(db, () => {
          forget.run()
          say.run('folder', name)
        })
      },
      /** Puts some of all readings there are into the queue, from a place on; where to go on, null at the end. */
      queueSome(at: WalkAt): WalkAt | null {
        return transact(db, () => {
          const { probe, readings, next } = walk(at, SLICE)
          keep(probe, readings)
          return next
        })
      },
    },
  }
}
