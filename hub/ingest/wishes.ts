import { HOUR } from '../model/clock.ts'
import type { Clock } from '../model/clock.ts'
import type { GardenStore } from '../store/garden-store.ts'
import { createAskRule } from './ask-again.ts'
import type { Boot } from './boot-book.ts'
import type { Downlink } from './ingest.ts'
import type { Orders } from './orders.ts'

/** A probe is asked for readings while it is there; later the hole is looked at anew. */
const RESEND_HOLDS_MS = HOUR

export interface WishesDeps {
  readonly garden: Pick<GardenStore, 'probe'>
  readonly orders: Orders
  readonly clock: Clock
  /** How long a hole may stay open before the probe is asked, ms. */
  readonly askAfterMs: (intervalS: number | null) => number
  /** Repeats until the store takes it. */
  readonly lasting: <T>(work: () => Promise<T>) => Promise<T>
}

/** What the hub wants of the probes that are there at this moment. */
export interface Wishes {
  /**
   * All that is open to a probe that woke, to others what is due.
   *
   * @param present boots that sent a reading just now, and when
   */
  told(woke: ReadonlySet<string>, present: ReadonlyMap<Boot, number>): Promise<readonly Downlink[]>
}

export function createWishes(deps: WishesDeps): Wishes {
  const { garden, orders, clock, lasting } = deps
  const asking = createAskRule()

  async function askAgain(boot: Boot, at: number): Promise<void> {
    const { probe } = boot
    const wanted = await asking.look(boot, at, async () => {
      const known = await lasting(() => garden.probe(probe))
      return deps.askAfterMs(known?.intervalS ?? null)
    })
    if (wanted === null) return
    const asked = { boot: boot.boot, ...wanted }
    await lasting(() => orders.resend(probe, asked, at, at + RESEND_HOLDS_MS))
  }

  return {
    async told(woke, present) {
      const downlinks: Downlink[] = []
      for (const [boot, at] of present) {
        const { probe } = boot
        if (asking.isWhole(boot) && (woke.has(probe) || orders.isQuiet(probe))) continue
        await askAgain(boot, at)
        if (!woke.has(probe)) downlinks.push(...(await lasting(() => orders.spoke(probe, at))))
      }
      for (const probe of woke)
        downlinks.push(...(await lasting(() => orders.awake(probe, clock()))))
      return downlinks
    },
  }
}
