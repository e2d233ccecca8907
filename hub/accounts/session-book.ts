import type { Session, SessionRecord } from '../model/account.ts'
import { DAY, MINUTE, type Clock } from '../model/clock.ts'
import type { AccountStore } from '../store/account-store.ts'
import { hashSecret, makeSecret } from './secret.ts'

/** A browser that was not used for so long has to sign in again. Common practice for a home, no source. */
export const IDLE_MS = 30 * DAY
/** And one that was used all the time, after so long. */
export const LONGEST_MS = 180 * DAY
/** How exact the time of the last use is: not every request is worth a write. */
const SEEN_EVERY_MS = 5 * MINUTE
/** Most sessions of one person; the one unused for longest makes room. */
const MOST_EACH = 50

/** Sessions, all in memory and every change written through. */
export interface SessionBook {
  of(personId: number): readonly Session[]
  /** By the secret the browser has; null when it is none or has ended. Notes that it is used. */
  bySecret(secret: string): Session | null
  isOn(id: number): boolean
  begin(personId: number, device: string): Promise<{ session: Session; secret: string }>
  end(ids: readonly number[]): Promise<void>
  /** Ends what has run out. */
  sweep(): Promise<void>
}

export interface BookOptions {
  readonly store: AccountStore
  readonly clock: Clock
  /** Told of each session or key that is over, however it came to that. */
  readonly onEnd: (id: number) => void
  readonly onTrouble: (error: unknown) => void
}

export function createSessionBook(
  records: readonly SessionRecord[],
  { store, clock, onEnd, onTrouble }: BookOptions,
): SessionBook {
  const byHash = new Map(records.map((record) => [record.hash, record]))
  const all = (): SessionRecord[] => [...byHash.values()]
  const hasRunOut = ({ startedAt, seenAt }: Session): boolean => {
    const now = clock()
    return now >= seenAt + IDLE_MS || now >= startedAt + LONGEST_MS
  }
  /** Without the hash, which stays in this file. */
  const plain = ({ id, personId, startedAt, seenAt, device }: SessionRecord): Session => ({
    id,
    personId,
    startedAt,
    seenAt,
    device,
  })

  async function end(ids: readonly number[]): Promise<void> {
    const over = all().filter(({ id }) => ids.includes(id))
    // Out of memory first: whatever becomes of the disk, nobody gets in with it any more.
    for (const { hash } of over) byHash.delete(hash)
    for (const { id } of over) onEnd(id)
    if (over.length > 0) await store.removeSessions(over.map(({ id }) => id))
  }
  return {
    of: (personId) =>
      all()
        .filter((record) => record.personId === personId && !hasRunOut(record))
        .map(plain),
    bySecret(secret) {
      const hash = hashSecret(secret)
      const record = byHash.get(hash)
      if (record === undefined || hasRunOut(record)) return null
      const now = clock()
      if (now - record.seenAt < SEEN_EVERY_MS) return plain(record)
      const seen = { ...record, seenAt: now }
      byHash.set(hash, seen)
      store.sessionSeen(record.id, now).catch(onTrouble)
      return plain(seen)
    },
    isOn: (id) => all().some((record) => record.id === id && !hasRunOut(record)),
    async begin(personId, device) {
      const mine = all()
        .filter((record) => record.personId === personId)
        .toSorted((a, b) => b.seenAt - a.seenAt)
      await end(mine.slice(MOST_EACH - 1).map(({ id }) => id))
      const secret = makeSecret()
      const now = clock()
      const record = await store.addSession({
        personId,
        startedAt: now,
        seenAt: now,
        device,
        hash: hashSecret(secret),
      })
      byHash.set(record.hash, record)
      return { session: plain(record), secret }
    },
    end,
    sweep: () =>
      end(
        all()
          .filter(hasRunOut)
          .map(({ id }) => id),
      ),
  }
}
