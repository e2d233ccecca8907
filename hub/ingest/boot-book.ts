import type { Anchor, BootMark } from '../model/reading.ts'
import type { BootMemory } from '../store/reading-store.ts'
import { ANCHOR_SPACING_MS, isWorthKeeping } from '../wire/time.ts'
import type { BootAnchor } from '../wire/time.ts'
import { createLedger } from './ledger.ts'
import type { Ledger } from './ledger.ts'

const NONE: readonly Anchor[] = []

/** All the ingest knows of one boot of one probe. */
export interface Boot {
  readonly probe: string
  readonly boot: number
  readonly ledger: Ledger
  /** Ascending in uptime; the last one may be known to this process only. */
  readonly anchors: readonly BootAnchor[]
  lastAt: number
  /** When and how far it was last acknowledged by this process. */
  ackedAt: number
  sinceAck: number
  /** Whether it was asked for since somebody last looked. */
  used: boolean
  /**
   * Notes a moment at which uptime and the hub's clock were both known.
   * Returns the anchors that have to be stored for it.
   */
  anchor(next: BootAnchor): readonly Anchor[]
  mark(): BootMark
}

/** Takes up a boot where the store left it. */
export function openBoot(probe: string, boot: number, memory: BootMemory): Boot {
  const ledger = createLedger({
    top: memory.mark?.top ?? -1,
    lost: memory.mark?.lost ?? 0,
    ahead: memory.ahead,
  })
  const anchors: BootAnchor[] = memory.anchors.map(({ uptimeS, at }) => ({ uptimeS, at }))
  /** The newest anchor when it is not a stored one; it gives way to the next. */
  let loose: BootAnchor | null = null
  const { newest } = memory
  if (newest !== null && newest.uptimeS > (anchors.at(-1)?.uptimeS ?? -Infinity)) {
    loose = newest
    anchors.push(newest)
  }

  function keep(anchor: BootAnchor): Anchor {
    return { probe, boot, uptimeS: anchor.uptimeS, at: anchor.at }
  }

  return {
    probe,
    boot,
    ledger,
    anchors,
    lastAt: memory.mark?.lastAt ?? 0,
    ackedAt: -Infinity,
    sinceAck: 0,
    used: false,
    anchor(next) {
      const last = anchors.at(-1)
      if (last !== undefined && next.uptimeS <= last.uptimeS) return NONE
      let kept: Anchor[] | null = null
      if (loose !== null) {
        // Before a long silence the last moment known is worth as much as the first one after it.
        if ((next.uptimeS - loose.uptimeS) * 1000 >= ANCHOR_SPACING_MS) kept = [keep(loose)]
        else anchors.pop()
        loose = null
      }
      if (isWorthKeeping(anchors, next)) (kept ??= []).push(keep(next))
      else loose = next
      anchors.push(next)
      return kept ?? NONE
    },
    mark() {
      return {
        probe,
        boot,
        top: ledger.top,
        lost: ledger.lost,
        missing: ledger.missing,
        highest: ledger.highest,
        lastAt: this.lastAt,
      }
    },
  }
}
