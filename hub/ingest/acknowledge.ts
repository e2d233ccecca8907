import { MINUTE } from '../model/clock.ts'
import { encodeAck } from '../wire/payload.ts'
import { formatTopic } from '../wire/topic.ts'
import type { Boot } from './boot-book.ts'
import type { Downlink } from './ingest.ts'

/** A live reading is acknowledged at the latest after this many, or this long after the last time. */
const EVERY_READINGS = 10
const EVERY_MS = MINUTE

/** Collects which boots are owed an acknowledgement once the batch is stored. */
export interface AckRule {
  /** A probe says that it is there: it is told how far it is stored. */
  on(boot: Boot, at: number): void
  /** Every batch is answered; `present`: its rows are of the boot that sent it. */
  batch(boot: Boot, present: boolean, at: number): void
  /** Live readings are answered now and then. */
  reading(boot: Boot, at: number): void
  owed(): ReadonlyMap<Boot, { readonly present: boolean; readonly at: number }>
}

export function createAckRule(): AckRule {
  const owed = new Map<Boot, { present: boolean; at: number }>()
  return {
    on: (boot, at) => owed.set(boot, { present: true, at }),
    batch: (boot, present, at) => owed.set(boot, { present, at }),
    reading(boot, at) {
      boot.sinceAck++
      if (boot.sinceAck >= EVERY_READINGS || Math.abs(at - boot.ackedAt) >= EVERY_MS)
        owed.set(boot, { present: true, at })
    },
    owed: () => owed,
  }
}

/**
 * The acknowledgements, to be sent after the commit: everything up to `n` is stored or written off.
 * Retained for the boot that runs now, so that a probe that slept finds it; an earlier boot's is sent once,
 * in answer to its batch, and leaves the retained one standing.
 */
export function acknowledge(rule: AckRule): readonly Downlink[] {
  const downlinks: Downlink[] = []
  for (const [boot, { present, at }] of rule.owed()) {
    if (boot.ledger.top < 0) continue
    boot.ackedAt = at
    boot.sinceAck = 0
    downlinks.push({
      topic: formatTopic({ to: 'probe', probe: boot.probe, leaf: 'ack' }),
      payload: encodeAck({ b: boot.boot, n: boot.ledger.top }),
      retain: present,
    })
  }
  return downlinks
}
