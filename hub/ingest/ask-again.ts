import { DAY, MINUTE, SECOND } from '../model/clock.ts'
import type { Boot } from './boot-book.ts'

/** A probe that keeps readings sends them again by itself after a minute; it is not asked before. */
const LEAST_WAIT_MS = 2 * MINUTE
const WAIT_INTERVALS = 3
const LONGEST_WAIT_MS = DAY
/** Most readings one command can ask for. */
const MOST_AT_ONCE = 255

/** How long a hole may stay open before the probe is asked, ms. */
export function askAfterMs(intervalS: number | null): number {
  return Math.max(LEAST_WAIT_MS, WAIT_INTERVALS * (intervalS ?? 0) * SECOND)
}

interface Hole {
  readonly from: number
  readonly waitMs: number
  asks: number
  nextAt: number
}

/** Decides when a probe is asked for readings that did not come. */
export interface AskRule {
  /** Whether no hole of a boot is open; then there is nothing to look at. */
  isWhole(boot: Boot): boolean
  /**
   * Looks at the first hole of a boot that speaks. What is to be asked for now, or null; each time the same
   * hole is asked for, the next pause is twice as long, up to a day. What is written off is no hole.
   *
   * @param waitMs told only when a hole is new: how long it may stay open
   */
  look(
    boot: Boot,
    at: number,
    waitMs: () => Promise<number>,
  ): Promise<{ readonly from: number; readonly count: number } | null>
}

export function createAskRule(): AskRule {
  const holes = new WeakMap<Boot, Hole>()
  return {
    isWhole(boot) {
      if (boot.ledger.hole !== null) return false
      holes.delete(boot)
      return true
    },
    async look(boot, at, waitMs) {
      const { hole } = boot.ledger
      if (hole === null) {
        holes.delete(boot)
        return null
      }
      let known = holes.get(boot)
      if (known === undefined || known.from !== hole.from) {
        const wait = await waitMs()
        known = { from: hole.from, waitMs: wait, asks: 0, nextAt: at + wait }
        holes.set(boot, known)
      }
      // A clock that is set back must not keep it from being asked for.
      if (at < known.nextAt && known.nextAt - at <= LONGEST_WAIT_MS) return null
      known.asks++
      known.nextAt = at + Math.min(known.waitMs * 2 ** known.asks, LONGEST_WAIT_MS)
      return { from: hole.from, count: Math.min(hole.count, MOST_AT_ONCE) }
    },
  }
}
