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

/** Reads the log on from where it is settled; null when it is all settled. */
export function logStretches(db: Database): () => Stretch | null {
  const findCursor = db.prepare(`SELECT i FROM cursor WHERE name = 'settled'`)
  const readLog = db.prepare(`SELECT i, readings, body FROM log WHERE i > ? ORDER BY i LIMIT 64`)
  const row = emptyRow()

  return () => {
    const first = rowOf<{ i: number }>(findCursor)?.i ?? 0
    let last = first
    const intakes: { readonly i: number; readonly intake: OpenIntake }[] = []
    /** By probe: which batch and which reading in it, by turns. */
    const places = new Map<string, number[]>()
    const marks = new Map<string, Map<number, BootMark>>()
    for (let readings = 0; readings < READINGS;) {
      const some = rowsOf<{ i: number; readings: number; body: Uint8Array }>(readLog, last)
      if (some.length === 0) break
      for (const { i, readings: n, body } of some) {
        const intake = openIntake(body, i)
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
        last = i
        readings += n
        if (readings >= READINGS) break
      }
    }
    if (last === first) return null
    const none = new Map<number, BootMark>()
    const shares = [...new Set([...places.keys(), ...marks.keys()])].map((probe): Share => {
      const mine = places.get(probe) ?? []
      return {
        probe,
        readings: mine.length / 2,
        marks: marks.get(probe) ?? none,
        *rows(settledTo) {
          for (let p = 0; p < mine.length; p += 2) {
            const { i, intake } = intakes[mine[p]!]!
            if (i <= settledTo) continue
            intake.read(mine[p + 1]!, row)
            yield row
          }
        },
      }
    })
    return { shares, last }
  }
}
