import { MINUTE, SECOND } from '../model/clock.ts'
import type { Counted } from '../simulator/wire-messages.ts'

/** Readings of one boot that the hub has not acknowledged, and when they are due to be sent again. */
export interface HeldReadings {
  count(): number
  /** What is held, oldest first. */
  all(): readonly Counted[]
  /** Keeps a reading; the oldest makes room when the memory is full and is given back. Times are epoch ms. */
  add(one: Counted, at: number): Counted | null
  /** The way to the hub is free again: all that is held is due at once. */
  connected(at: number): void
  /** The hub has stored, or given up, everything of this boot up to `n`. */
  acknowledged(n: number, at: number): void
  /** When readings are due to be sent again, or null when none are held. */
  dueAt(): number | null
  /** Readings to send again now, oldest first; empty when it is not time. */
  due(at: number): readonly Counted[]
  /** One batch went out, the readings up to `last`: until its answer or its time nothing more is due. */
  sent(last: number, at: number): void
}

const RESEND_AFTER_MS = MINUTE
/** Pauses double up to so many times the first. */
const LONGEST_PAUSE = 16
const BETWEEN_BATCHES_MS = SECOND

/**
 * The memory of a probe by the rules of the firmware specification: oldest first, one batch unanswered at
 * a time, at most one a second, again after a minute without an answer and then with growing pauses.
 */
export function heldReadings(
  capacity: number,
  /** Wait for an answer, ms. @default 60000 */
  resendAfterMs: number = RESEND_AFTER_MS,
): HeldReadings {
  let held: Counted[] = []
  /** Readings from here on went out when they were measured and may still be answered. */
  let freshFrom = 0
  /** Newest reading of the batch that waits for its answer. */
  let unanswered: number | null = null
  let pauseMs = resendAfterMs
  let nextAt = 0

  const resendAll = (): void => {
    freshFrom = (held.at(-1)?.seq ?? -1) + 1
  }
  const hasBacklog = (): boolean => held.length > 0 && held[0]!.seq < freshFrom

  return {
    count: () => held.length,
    all: () => held,
    add(one, at) {
      if (held.length === 0) nextAt = at + pauseMs
      held.push(one)
      return held.length > capacity ? (held.shift() ?? null) : null
    },
    connected(at) {
      resendAll()
      unanswered = null
      pauseMs = resendAfterMs
      nextAt = at
    },
    acknowledged(n, at) {
      const before = held.length
      held = held.filter((one) => one.seq > n)
      if (held.length === before) return
      pauseMs = resendAfterMs
      if (unanswered !== null && n >= unanswered) unanswered = null
      nextAt =
        at +
        (hasBacklog() && unanswered === null
          ? Math.min(BETWEEN_BATCHES_MS, resendAfterMs)
          : pauseMs)
    },
    dueAt: () => (held.length === 0 ? null : nextAt),
    due(at) {
      if (held.length === 0 || at < nextAt) return []
      if (!hasBacklog()) resendAll()
      return held.filter((one) => one.seq < freshFrom)
    },
    sent(last, at) {
      unanswered = last
      nextAt = at + pauseMs
      pauseMs = Math.min(2 * pauseMs, LONGEST_PAUSE * resendAfterMs)
    },
  }
}
