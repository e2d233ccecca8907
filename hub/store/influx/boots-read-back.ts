import { PLAIN_BOOT } from '../../model/reading.ts'
import type { Anchor, BootMark } from '../../model/reading.ts'
import type { KeptReading } from '../sqlite/kept-reading.ts'

/** Moments at which uptime and the hub's clock were both known, one in so many of those there are. */
const ANCHOR_EACH = 100

/**
 * What acknowledging needs to know of the boots of one probe, made of its readings alone: how far each is there
 * without a hole, and some moments by which held readings are placed. Below the lowest number of a boot nothing is
 * taken to be missing: what came before was pruned, or written off and forgotten.
 */
export function bootsReadBack(probe: string) {
  const boots = new Map<number, { seqs: number[]; lastAt: number; arrivals: Anchor[] }>()
  return {
    add(readings: readonly KeptReading[]): void {
      for (const { boot, seq, arrivedAt, placedBy, uptimeS } of readings) {
        // Plain numbers and files have numbers nobody counts.
        if (boot >= PLAIN_BOOT) continue
        let one = boots.get(boot)
        if (one === undefined)
          boots.set(boot, (one = { seqs: [], lastAt: arrivedAt, arrivals: [] }))
        one.seqs.push(seq)
        one.lastAt = Math.max(one.lastAt, arrivedAt)
        if (placedBy === 'arrival') one.arrivals.push({ probe, boot, uptimeS, at: arrivedAt })
      }
    },
    marks(): BootMark[] {
      return [...boots].map(([boot, { seqs, lastAt }]) => {
        // A name may stand there twice, once of them without values.
        const sorted = [...new Set(seqs)].sort((a, b) => a - b)
        let top = sorted[0]!
        let below = 0
        for (const seq of sorted) {
          if (seq > top + 1) break
          top = seq
          below++
        }
        const highest = sorted.at(-1)!
        const missing = highest - top - (sorted.length - below)
        return { probe, boot, top, lost: 0, missing, highest, lastAt }
      })
    },
    anchors(): Anchor[] {
      return [...boots.values()].flatMap(({ arrivals }) => {
        const sorted = arrivals.toSorted((a, b) => a.uptimeS - b.uptimeS)
        return sorted.filter((_, i) => i % ANCHOR_EACH === 0 || i === sorted.length - 1)
      })
    },
  }
}
