import { HOUR, MINUTE } from '../model/clock.ts'
import type { Clock } from '../model/clock.ts'
import { createTokenBucket } from './token-bucket.ts'
import type { TokenBucket } from './token-bucket.ts'

/*
 * What a probe may send. The limits stop a firmware that has gone wild from filling the disk; no probe that
 * keeps to the specification meets them:
 *
 * Batches: LM-26 lets a probe send one message a second while it works off a backlog, by its own clock, which
 * may run some per cent fast. 1.25 a second is a quarter more, and the bytes are those of 249 each (LM-03).
 * A backlog of any length can go out at the pace of the specification.
 *
 * Everything else: settings allow a reading a minute at most (LM-28: interval of 60 s or more). A boot brings
 * `on`, the birth and up to sixteen channels (LM-07, LM-08), the will another: with growing pauses between
 * connections (LM-22) even a probe that starts anew each minute needs a third of a message a second. A plain
 * sketch with five channels may send every five seconds. 60 at once are three boots in a row.
 */
const BATCHES = { perSecond: 1.25, burst: 60, bytesPerHour: 1_200_000 }
const OTHERS = { perSecond: 1, burst: 60, bytesPerHour: 256_000 }
/*
 * Whoever the garden does not know, together at one address: names are free for the asking, addresses less so. It is
 * for their first messages only, until the garden has heard of them: a dozen new boards that boot at once behind one
 * address send about twenty each.
 */
const UNKNOWN = { perSecond: 1, burst: 300, bytesPerHour: 256_000 }
/*
 * The same at a broker of one's own, which does not tell where a message comes from: all who are new there together,
 * behind as many addresses as a large garden has. What the broker keeps of fifty probes, as many as may wait to be taken
 * in, is nine hundred messages (LM-07, LM-08); those count too, for they are free for the asking as well.
 */
const UNKNOWN_AT_BROKER = { perSecond: 10, burst: 3000, bytesPerHour: 2_560_000 }

/** After a store that was away what had piled up comes at once, through no fault of any probe. */
const GRACE_MS = 5 * MINUTE
/** The notice stands for so long after the last message over the limit. */
const NOTICE_MS = HOUR
/** Probes and names of clients followed at a time. */
const FOLLOWED = 10_000

/** A probe that sends more than it may, or an address. */
export interface OverLimit {
  /** First and last message over the limit, epoch ms. */
  readonly since: number
  readonly lastAt: number
  /** Messages that were not taken. */
  readonly refused: number
}

export interface RateLimiter {
  /** Whether a message may pass; one that may not is counted. `bytes`: topic and payload. */
  admit(sender: string, leaf: string | undefined, bytes: number): boolean
  /** The same for a message of somebody the garden does not know, who counts as where it comes from: an address, a broker. */
  admitUnknown(from: string, bytes: number, kind?: 'address' | 'broker'): boolean
  /** What stands against a probe, or null. */
  notice(probe: string): OverLimit | null
  /** The store refuses, or takes again: what piled up meanwhile counts for nothing. */
  storeIs(state: 'up' | 'connecting' | 'down'): void
}

type Limit = Readonly<typeof BATCHES>

interface Account {
  readonly batches: readonly [messages: TokenBucket, volume: TokenBucket]
  readonly others: readonly [TokenBucket, TokenBucket]
  over: { since: number; lastAt: number; refused: number } | null
}

export interface RateLimiterOptions {
  readonly clock: Clock
  /** Times the usual limits, 0 for none. @default 1 */
  readonly scale?: number
  /** A probe, or whoever sends from an address, has begun to send too much: once until it has kept within the limit for an hour. */
  readonly onNotice: (sender: string) => void
}

/** What those at an address, or a broker, are called whom the garden does not know. */
const unknownAt = (from: string): string => `whoever is new at ${from}`

/** Token buckets for every probe: messages and bytes, batches apart from the rest. */
export function createRateLimiter(options: RateLimiterOptions): RateLimiter {
  const { clock, onNotice } = options
  const scale = options.scale ?? 1
  const accounts = new Map<string, Account>()
  let graceUntil = -Infinity

  const buckets = (limit: Limit, now: number): [TokenBucket, TokenBucket] => [
    createTokenBucket(limit.burst * scale, limit.perSecond * scale, now),
    createTokenBucket(limit.bytesPerHour * scale, (limit.bytesPerHour * scale) / 3600, now),
  ]

  function forget(now: number): void {
    for (const [sender, { batches, others, over }] of accounts) {
      const idle = [...batches, ...others].every((bucket) => bucket.isFull(now))
      if (idle && (over === null || now - over.lastAt > NOTICE_MS)) accounts.delete(sender)
    }
    // Names are free for the asking: whoever uses up that many does not get to keep them.
    for (const sender of accounts.keys()) {
      if (accounts.size < FOLLOWED) return
      accounts.delete(sender)
    }
  }

  function accountOf(sender: string, now: number, batches: Limit, others: Limit): Account {
    let account = accounts.get(sender)
    if (account === undefined) {
      if (accounts.size >= FOLLOWED) forget(now)
      account = { batches: buckets(batches, now), others: buckets(others, now), over: null }
      accounts.set(sender, account)
    }
    return account
  }

  /** Whether nothing is counted at this moment. */
  function isFree(now: number): boolean {
    // A clock that is set back makes no grace of years.
    if (graceUntil !== Infinity && graceUntil - now > GRACE_MS) graceUntil = -Infinity
    return scale === 0 || now < graceUntil
  }

  function take(sender: string, account: Account, isBatch: boolean, bytes: number): boolean {
    const now = clock()
    const [messages, volume] = isBatch ? account.batches : account.others
    if (messages.take(1, now) && volume.take(bytes, now)) return true
    const { over } = account
    if (over === null || now - over.lastAt > NOTICE_MS) {
      account.over = { since: now, lastAt: now, refused: 1 }
      onNotice(sender)
    } else {
      over.lastAt = now
      over.refused++
    }
    return false
  }

  return {
    admit(sender, leaf, bytes) {
      const now = clock()
      if (isFree(now)) return true
      return take(sender, accountOf(sender, now, BATCHES, OTHERS), leaf === 'b', bytes)
    },
    admitUnknown(from, bytes, kind = 'address') {
      const now = clock()
      if (isFree(now)) return true
      // No probe's id has a blank.
      const sender = unknownAt(from)
      const limit = kind === 'broker' ? UNKNOWN_AT_BROKER : UNKNOWN
      return take(sender, accountOf(sender, now, limit, limit), false, bytes)
    },
    notice(probe) {
      const over = accounts.get(probe)?.over ?? null
      return over === null || clock() - over.lastAt > NOTICE_MS ? null : { ...over }
    },
    storeIs(state) {
      graceUntil = state === 'up' ? clock() + GRACE_MS : Infinity
    },
  }
}
