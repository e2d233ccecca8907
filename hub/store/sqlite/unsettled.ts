import { DamagedContent } from './damaged-content.ts'
import { rowsOf } from './open-database.ts'
import { emptyRow, openIntake } from './open-intake.ts'
import { PLACED_BY } from './placed-by.ts'
import type { BootMark } from '../../model/reading.ts'
import type { BootMemory } from '../reading-store.ts'
import type { Database } from './open-database.ts'
import type { IntakeRow } from './open-intake.ts'

/** What the log says of a boot. */
export interface UnsettledBoot {
  /** The newest; null: none was stored with these readings. */
  readonly mark: BootMark | null
  readonly seqs: readonly number[]
  /** Uptime and arrival of the newest reading placed by its arrival. */
  readonly newest: BootMemory['newest']
}

interface Boot {
  mark: BootMark | null
  readonly seqs: number[]
  newest: BootMemory['newest']
}

const ARRIVAL = PLACED_BY.indexOf('arrival')

/** Of two in the same second of uptime the earlier was on its way for less time. */
export function later(
  one: BootMemory['newest'],
  other: BootMemory['newest'],
): BootMemory['newest'] {
  if (one === null || other === null) return one ?? other
  if (one.uptimeS === other.uptimeS) return one.at <= other.at ? one : other
  return one.uptimeS > other.uptimeS ? one : other
}

/**
 * What is acknowledged and not settled yet, boot by boot. Only needed while settling has to wait; each row of the log
 * is read once.
 */
export function unsettled(db: Database) {
  const findSettled = db.prepare(`SELECT i FROM cursor WHERE name = 'settled'`)
  const readLog = db.prepare('SELECT i, body FROM log WHERE i > ? ORDER BY i LIMIT 64')
  const boots = new Map<string, Boot>()
  const row = emptyRow()
  let readTo = 0

  const bootOf = (probe: string, boot: number): Boot => {
    const key = `${probe}/${boot}`
    let one = boots.get(key)
    if (one === undefined) boots.set(key, (one = { mark: null, seqs: [], newest: null }))
    return one
  }
  function add({ probe, boot, seq, placedBy, uptime, arrivedAt }: IntakeRow): void {
    const one = bootOf(probe, boot)
    one.seqs.push(seq)
    if (placedBy !== ARRIVAL) return
    one.newest = later(one.newest, { uptimeS: uptime, at: arrivedAt })
  }
  function readOn(): void {
    const [settled] = rowsOf<{ i: number }>(findSettled)
    readTo = Math.max(readTo, settled?.i ?? 0)
    for (;;) {
      const some = rowsOf<{ i: number; body: Uint8Array }>(readLog, readTo)
      for (const { i, body } of some) {
        readTo = i
        try {
          const intake = openIntake(body)
          for (let k = 0; k < intake.readings; k++) {
            intake.read(k, row)
            add(row)
          }
          for (const mark of intake.marks) bootOf(mark.probe, mark.boot).mark = mark
        } catch (error) {
          // Settling puts it aside and tells it.
          if (!(error instanceof DamagedContent)) throw error
        }
      }
      if (some.length === 0) return
    }
  }

  return {
    /** Null: the log has nothing of it. */
    of(probe: string, boot: number): UnsettledBoot | null {
      readOn()
      return boots.get(`${probe}/${boot}`) ?? null
    },
    /** It is settled now, or about to be. */
    forget(): void {
      boots.clear()
      readTo = 0
    },
  }
}
