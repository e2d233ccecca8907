import { keptReadings } from '../sqlite/kept-readings.ts'
import { rowOf, rowsOf, transact } from '../sqlite/open-database.ts'
import { LIFE, ownLife } from './lives.ts'
import { lineOf, momentOf, nameIn, nameOf } from './point.ts'
import type { WalkAt } from '../sqlite/kept-readings.ts'
import type { Database } from '../sqlite/open-database.ts'
import type { KeptReading } from '../sqlite/kept-reading.ts'

export interface RefusedLine {
  readonly probe: string
  readonly t: number
  readonly line: string
  readonly why: string
}

/** What became of one sending. */
export interface Delivery {
  /** Rows it took, from and to. */
  readonly from: number
  readonly to: number
  /** Name of the folder and the last row, as it stands with its readings there now; null: that was not taken. */
  readonly sent: string | null
  /** Lines in them that the server did not take, and why. */
  readonly refused: readonly RefusedLine[]
}

interface QueueRow {
  readonly i: number
  readonly probe: string
  readonly lines: string
}

/** What a folder remembers of the InfluxDB its readings go to. */
export interface FolderMemory {
  /** The name under which it tells InfluxDB how far it is; null: it has not told it anything yet. */
  readonly folder: string | null
  /** It is a copy: what came after the copy was made may be there and not here. */
  readonly copied: boolean
  /** It holds readings. */
  readonly any: boolean
  /** It is sending all of them, and has come as far as this; null: it is not. */
  readonly sendingAll: WalkAt | null
}

/** Readings put into the queue in one transaction (some milliseconds), and how many are looked at a time. */
const SLICE = 2000
const LOOK = 1000
/** Where sending all readings begins. */
const FIRST: WalkAt = { probe: '', t: 0 }
/** Name of what is said while it lasts: where it goes on. */
const ALL = 'sending all'
/** Lines in one row: what a reader of one hour has to look through. */
const IN_A_ROW = 250

/**
 * The readings on their way to an InfluxDB, at the side that writes. They are put there in the transaction that
 * keeps them and go in the one that knows they are delivered: whatever ends in between, a reading is sent twice at
 * worst, and the second time is the same point.
 */
export function undelivered(db: Database) {
  const add = db.prepare(
    'INSERT INTO undelivered (probe, low, high, n, lines) VALUES (?, ?, ?, ?, ?)',
  )
  const drop = db.prepare('DELETE FROM undelivered WHERE i BETWEEN ? AND ?')
  const findOf = db.prepare('SELECT i, probe, lines FROM undelivered WHERE probe = ?')
  const findOld = db.prepare('SELECT i, probe, lines FROM undelivered WHERE low < ?')
  const refuse = db.prepare('INSERT OR REPLACE INTO refused VALUES (?, ?, ?, ?)')
  const pruneRefused = db.prepare('DELETE FROM refused WHERE t < ?')
  const findRefused = db.prepare('SELECT probe, t, line FROM refused')
  const say = db.prepare('INSERT OR REPLACE INTO forwarding VALUES (?, ?)')
  const said = db.prepare('SELECT said FROM forwarding WHERE name = ?')
  const anySaid = db.prepare('SELECT 1 FROM forwarding')
  const unsay = db.prepare('DELETE FROM forwarding WHERE name = ?')
  const forget = db.prepare('DELETE FROM forwarding')
  // What was sent under an earlier name was sent all the same.
  const forgetStanding = db.prepare(
    `DELETE FROM forwarding WHERE name <> 'sent' AND name NOT GLOB '${LIFE}*'`,
  )
  const anything = db.prepare(`SELECT 1 FROM tally WHERE name = 'readings' AND n > 0`)
  const walk = keptReadings(db)
  const sayLife = ownLife(db)

  const put = (probe: string, lines: readonly { t: number; line: string }[]): void => {
    if (lines.length === 0) return
    const low = lines.reduce((least, { t }) => Math.min(least, t), Infinity)
    const high = lines.reduce((most, { t }) => Math.max(most, t), -Infinity)
    sayLife()
    add.run(probe, low, high, lines.length, lines.map(({ line }) => line).join('\n'))
  }
  /** Of the lines in some rows these alone go on waiting. */
  const sift = (rows: readonly QueueRow[], goes: (line: string) => boolean): void => {
    for (const { i, probe, lines } of rows) {
      const all = lines.split('\n')
      const some = all.filter(goes)
      if (some.length === all.length) continue
      drop.run(i, i)
      put(
        probe,
        some.map((line) => ({ t: momentOf(line), line })),
      )
    }
  }
  const sendingAll = (): WalkAt | null => {
    const at = rowOf<{ said: string }>(said, ALL)?.said
    if (at === undefined) return null
    // Hubs before did not say how far they were.
    return at === 'yes' ? FIRST : (JSON.parse(at) as WalkAt)
  }
  const keep = (probe: string, readings: readonly KeptReading[]): void => {
    for (let start = 0; start < readings.length; start += IN_A_ROW) {
      const some = readings.slice(start, start + IN_A_ROW)
      put(
        probe,
        some.map((reading) => ({ t: reading.t, line: lineOf(probe, reading) })),
      )
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
        db.exec('DELETE FROM undelivered; DELETE FROM refused')
      })
    },
    handlers: {
      delivered({ from, to, sent, refused }: Delivery): void {
        transact(db, () => {
          if (sent !== null) say.run('sent', sent)
          for (const { probe, t, line, why } of refused) refuse.run(probe, t, line, why)
          drop.run(from, to)
        })
      },
      /** What was refused is tried once more: somebody may have mended what was wrong with it. */
      tryRefused(): void {
        transact(db, () => {
          for (const { probe, t, line } of rowsOf<RefusedLine>(findRefused)) {
            put(probe, [{ t, line }])
          }
          db.exec('DELETE FROM refused')
        })
      },
      /** Nothing of before a moment goes there any more. */
      pruneUndelivered(before: number): void {
        transact(db, () => {
          pruneRefused.run(before)
          sift(rowsOf<QueueRow>(findOld, before), (line) => momentOf(line) >= before)
        })
      },
      /** These readings of a probe do not go there; they are there already. */
      withdraw(probe: string, readings: readonly Pick<KeptReading, 'boot' | 'seq'>[]): void {
        const names = new Set(readings.map(nameOf))
        transact(db, () =>
          sift(rowsOf<QueueRow>(findOf, probe), (line) => !names.has(nameIn(line))),
        )
      },
      folderMemory: (): FolderMemory => ({
        folder: rowOf<{ said: string }>(said, 'folder')?.said ?? null,
        copied: rowOf(said, 'copied') !== null,
        any: rowOf(anything) !== null,
        sendingAll: sendingAll(),
      }),
      /** From now on this folder and that InfluxDB belong together under this name; `all`: it is sent everything. */
      setFolder(name: string, all: boolean): void {
        transact(db, () => {
          forgetStanding.run()
          say.run('folder', name)
          if (all) say.run(ALL, JSON.stringify(FIRST))
        })
      },
      /**
       * Puts some of all readings there are into the queue, while all are to be sent; false: that was the last of
       * them. Those that have become hours here stay: without values, and at moments of their own, they would be other
       * points than the readings themselves, which may be there.
       */
      queueSome: (): boolean =>
        transact(db, () => {
          let at = sendingAll()
          for (let n = 0; at !== null && n < SLICE;) {
            const { probe, readings, next }: ReturnType<typeof walk> = walk(at, LOOK)
            keep(
              probe,
              readings.filter(({ values }) => values.length > 0),
            )
            n += readings.length
            at = next
          }
          if (at === null) unsay.run(ALL)
          else say.run(ALL, JSON.stringify(at))
          return at !== null
        }),
    },
  }
}
