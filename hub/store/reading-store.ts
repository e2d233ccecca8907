import type {
  Anchor,
  BootAccount,
  BootMark,
  IntakeBatch,
  PlacedReading,
  Quarantined,
} from '../model/reading.ts'
import type { Buckets, BucketQuery } from '../model/series.ts'
import type { Damage } from './damage.ts'
import type { Upkeep } from './retention/upkeep.ts'

/** The newest reading of one channel of one probe. */
export interface LatestValue {
  readonly probe: string
  readonly channel: string
  /** Epoch ms. */
  readonly at: number
  /** As sent; NaN when the sensor was tried and failed. */
  readonly value: number
}

/** What the store remembers of one boot of one probe, so that acknowledging goes on after a restart. */
export interface BootMemory {
  readonly mark: BootMark | null
  /** Sequence numbers stored beyond `mark.top` (beyond -1 when there is no mark), ascending. */
  readonly ahead: readonly number[]
  /** Ascending in uptime. */
  readonly anchors: readonly Anchor[]
  /** Uptime and arrival of the newest reading placed by its arrival; anchors are kept only now and then. */
  readonly newest: { readonly uptimeS: number; readonly at: number } | null
}

export interface IntakeCounts {
  /** Readings kept, each (probe, boot, seq) once. */
  readonly readings: number
  /** Arrivals of a reading already kept. */
  readonly duplicates: number
  /** Messages that were put in quarantine. */
  readonly quarantined: number
  /** Of these: left it again, to make room for newer ones. */
  readonly quarantineDropped: number
  /** Readings written off: the probe no longer holds them. */
  readonly lost: number
}

export interface QuarantineRow extends Quarantined {
  readonly id: number
}

/** Readings whose bytes were changed on the disk by something other than the hub, put aside and not settled. */
export interface Damaged {
  /** Blocks and batches. */
  readonly parts: number
  /** How many readings were in them. */
  readonly readings: number
  /** When the first of them was met, epoch ms. */
  readonly at: number
}

/** What a move into the time-series tables touched. */
export interface Settled {
  readonly probes: readonly string[]
  /** Epoch ms of the earliest and latest reading that moved. */
  readonly from: number
  readonly to: number
}

/** Readings on their way from here to where they are kept for good. */
export interface Forwarding {
  /** Down: what is tried fails, again and again. */
  readonly state: 'up' | 'down'
  /** Since when, epoch ms. */
  readonly since: number
  /** What goes wrong, in a sentence; null while up. */
  readonly problem: string | null
  /** Readings that are on their way. */
  readonly waiting: number
  /** Readings that are not taken there; they stay here and are answered from here. */
  readonly refused: number
  /** Why the newest of them was not taken; null when there is none. */
  readonly why: string | null
}

/**
 * Readings as received: bulky, append-only, kept for ever unless the garden says otherwise. One contract suite
 * (`tests/contract`) holds every adapter to this.
 */
export interface ReadingStore {
  /**
   * Resolves once the whole batch is durable (power-cut safe). The same (probe, boot, seq) again changes
   * nothing; with other content it is kept in quarantine, where it is the last to go. Rejects with HubError
   * HUB_STORE_UNAVAILABLE when nothing of the batch was kept.
   */
  append(batch: IntakeBatch): Promise<void>
  /** Resolves when everything appended before the call is visible to reads. */
  settle(): Promise<void>
  /** Calls back after readings became visible, soon after they were appended. Returns an unsubscribe. */
  onSettled(listener: (settled: Settled) => void): () => void
  /** One answer per query, in order. A probe or channel never heard of gives empty columns. */
  buckets(queries: readonly BucketQuery[]): Promise<readonly Buckets[]>
  /** Newest value of every channel of every probe, or of one probe. */
  latest(probe?: string): Promise<readonly LatestValue[]>
  /** What is remembered of one boot; empty when it was never heard of. Sees everything appended before. */
  recall(probe: string, boot: number): Promise<BootMemory>
  /** The newest quarantined messages, newest first; so many bytes of them are kept (`sqlite/quarantine.ts`). */
  quarantine(limit: number): Promise<readonly QuarantineRow[]>
  counts(): Promise<IntakeCounts>
  /** What was met damaged, is kept apart and was not settled yet; null: nothing. */
  damaged(): Promise<Damaged | null>
  /** What was met damaged, part by part, and settling it. Reads go on past it: their answers are without it. */
  readonly damage: Damage
  /** What became of the readings of a probe, newest boot first. Sees everything appended before. */
  accounts(probe: string): Promise<readonly BootAccount[]>
  /** The newest readings of a probe by the time they were measured, newest first. */
  newest(probe: string, limit: number): Promise<readonly PlacedReading[]>
  /** Deletes readings older than `before` (epoch ms), roll-ups too. Resolves to how many readings went. */
  prune(before: number): Promise<number>
  /**
   * Makes hourly and daily rows anew from the readings, in slices between which readings go on being kept. Given up
   * half-way, what was made anew stays and the rest is as it was. Resolves to days of series made anew, and all.
   */
  rebuild(options?: {
    readonly signal?: AbortSignal
    /** Hears the share that is done, 0 to 1. */
    readonly tell?: (share: number) => void
  }): Promise<{ readonly days: number; readonly of: number }>
  /** Housekeeping; absent where the readings lie in a database that keeps house by itself. */
  readonly upkeep?: Upkeep
  /** How far behind the place is that readings are sent on to; null when they are kept here alone. */
  forwarding(): Promise<Forwarding | null>
  close(): Promise<void>
}
