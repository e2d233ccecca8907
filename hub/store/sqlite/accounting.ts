import { PLACED_BY } from './placed-by.ts'
import type { PlacedBy } from '../../model/reading.ts'
import type { Database } from './open-database.ts'

/** What an account needs of a reading. */
interface Row {
  readonly probe: string
  readonly boot: number
  readonly at: number
  readonly placedBy: number
  readonly arrivedAt: number
}

/** Counts of one slice, not yet in the database. */
interface Sum {
  readonly probe: string
  readonly boot: number
  received: number
  late: number
  duplicates: number
  conflicting: number
  readonly placed: Record<PlacedBy, number>
  firstAt: number
  lastAt: number
}

/** A live reading is on its way for at most this long, ms; the same as where time is given (wire/time.ts). */
const LATE_AFTER_MS = 120_000

/** Keeps the account of each boot; what a slice adds is written once, in the slice's transaction. */
export function accounting(db: Database) {
  const add = db.prepare(
    `INSERT INTO account VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
     ON CONFLICT DO UPDATE SET received = received + excluded.received, late = late + excluded.late,
       duplicates = duplicates + excluded.duplicates, conflicting = conflicting + excluded.conflicting,
       by_arrival = by_arrival + excluded.by_arrival, by_device = by_device + excluded.by_device,
       by_anchors = by_anchors + excluded.by_anchors, bounded = bounded + excluded.bounded,
       by_file = by_file + excluded.by_file,
       first_at = min(first_at, excluded.first_at), last_at = max(last_at, excluded.last_at)`,
  )

  return {
    open() {
      const sums = new Map<string, Sum>()
      /** Readings of one boot mostly come together. */
      let last: Sum | null = null
      const sumOf = ({ probe, boot, arrivedAt: at }: Row): Sum => {
        if (last !== null && last.boot === boot && last.probe === probe) return widen(last, at)
        const key = `${probe}/${boot}`
        let sum = sums.get(key)
        if (sum === undefined) {
          sum = {
            probe,
            boot,
            received: 0,
            late: 0,
            duplicates: 0,
            conflicting: 0,
            placed: { arrival: 0, device: 0, anchors: 0, bounded: 0, file: 0 },
            firstAt: at,
            lastAt: at,
          }
          sums.set(key, sum)
        }
        last = sum
        return widen(sum, at)
      }
      return {
        received(row: Row): void {
          const sum = sumOf(row)
          sum.received++
          const placedBy = PLACED_BY[row.placedBy]!
          sum.placed[placedBy]++
          // A file brings the past; nobody was late.
          if (placedBy === 'file') return
          const held = placedBy === 'anchors' || placedBy === 'bounded'
          if (held || row.arrivedAt - row.at > LATE_AFTER_MS) sum.late++
        },
        repeated(row: Row): void {
          sumOf(row).duplicates++
        },
        conflicting(row: Row): void {
          sumOf(row).conflicting++
        },
        close(): void {
          for (const s of sums.values()) {
            add.run(
              s.probe,
              s.boot,
              s.received,
              s.late,
              s.duplicates,
              s.conflicting,
              s.placed.arrival,
              s.placed.device,
              s.placed.anchors,
              s.placed.bounded,
              s.placed.file,
              s.firstAt,
              s.lastAt,
            )
          }
        },
      }
    },
  }
}

function widen(sum: Sum, at: number): Sum {
  if (at < sum.firstAt) sum.firstAt = at
  if (at > sum.lastAt) sum.lastAt = at
  return sum
}
