import { rowOf, rowsOf } from './open-database.ts'
import { emptyRow, openIntake } from './open-intake.ts'
import type { BootMark } from '../../model/reading.ts'
import type { Database } from './open-database.ts'
import type { IntakeRow, OpenIntake } from './open-intake.ts'

/** What of a stretch of the log belongs to one probe. */
export interface Share {
  readonly probe: string
  readonly readings: number
  /** The newest mark of each boot. */
  readonly marks: ReadonlyMap<number, BootMark>
  /**
   * Its readings behind row `settledTo` of the log, in the order of the log. It is one object that is filled anew for
   * each: whoever keeps one makes a copy.
   */
  rows(settledTo: number): Iterable<IntakeRow>
}

export interface Stretch {
  readonly shares: readonly Share[]
  /** Its last row in the log. */
  readonly last: number
}

/** Readings gone through in one stretch, so that each block is written once for many of them. */
const READINGS = 100_000

/** Reading a stretch, some of it at a time: others wait for this thread meanwhile. */
export interface Gathering {
  /** The log is settled up to and including this row. */
  readonly cursor: number
  /** Reads on for about so many milliseconds; true when there is no more to be read. */
  readonly read: (ms: number) => boolean
  /** What was read; null when all is settled. */
  readonly stretch: () => Stretch | null
}

/** Begins to read the log from where it is settled. */
export function logStretches(db: Database): () => Gathering {
  const findCursor = db.prepare(`SELECT i FROM cursor WHERE name = 'settled'`)
  const readLog = db.prepare('SELECT i, readings, body FROM log WHERE i > ? ORDER BY i LIMIT 8')
  const row = emptyRow()

  return () => {
    const cursor = rowOf<{ i: number }>(findCursor)?.i ?? 0
    let last = cursor
    let readings = 0
    const intakes: { readonly i: number; readonly intake: OpenIntake }[] = []
    /** By probe: which batch and which reading in it, by turns. */
    const places = new Map<string, number[]>()
    const marks = new Map<string, Map<number, BootMark>>()

    function add(i: number, intake: OpenIntake): void {
      const batch = intakes.push({ i, intake }) - 1
      for (let k = 0; k < intake.readings; k++) {
        const probe = intake.probeOf(k)
        const mine = places.get(probe)
        if (mine === undefined) places.set(probe, [batch, k])
        else mine.push(batch, k)
      }
      for (const mark of intake.marks) {
        let mine = marks.get(mark.probe)
        if (mine === undefined) marks.set(mark.probe, (mine = new Map<number, BootMark>()))
        mine.set(mark.boot, mark)
      }
    }

    function shareOf(probe: string): Share {
      const mine = places.get(probe) ?? []
      return {
        probe,
        readings: mine.length / 2,
        marks: marks.get(probe) ?? new Map<number, BootMark>(),
        *rows(settledTo) {
          for (let p = 0; p < mine.length; p += 2) {
            const { i, intake } = intakes[mine[p]!]!
            if (i <= settledTo) continue
            intake.read(mine[p + 1]!, row)
            yield row
          }
        },
      }
    }

    return {
      cursor,
      read(ms) {
        const start = performance.now()
        while (readings < READINGS) {
          const some = rowsOf<{ i: number; readings: number; body: Uint8Array }>(readLog, last)
          if (some.length === 0) return true
          for (const { i, readings: n, body } of some) {
            add(i, openIntake(body, i))
            last = i
            readings += n
            if (readings >= READINGS) return true
            if (performance.now() - start >= ms) return false
          }
        }
        return true
      },
      stretch: () =>
        last === cursor
          ? null
          : { shares: [...new Set([...places.keys(), ...marks.keys()])].map(shareOf), last },
    }
  }
}
