import type { AccessKey, KeyKind, KeyRecord } from '../model/account.ts'
import { MINUTE } from '../model/clock.ts'
import { hashSecret, makeSecret } from './secret.ts'
import type { BookOptions } from './session-book.ts'

const USED_EVERY_MS = MINUTE

export type NewKey = Pick<AccessKey, 'kind' | 'name' | 'scopes' | 'bedId' | 'endsAt'>

/** Keys that were given away, all in memory and every change written through. */
export interface KeyBook {
  /** Also those that have run out, so that their owner sees why they no longer work. */
  all(kind: KeyKind): readonly AccessKey[]
  /** By its secret; null when it is none, of another kind, or over. Notes that it is used. */
  bySecret(kind: KeyKind, secret: string): AccessKey | null
  isOn(id: number): boolean
  /** The secret is told here and never again. */
  make(key: NewKey): Promise<{ key: AccessKey; secret: string }>
  /** False when there is none. */
  end(kind: KeyKind, id: number): Promise<boolean>
  /** Tells, once each, which keys have run out; they stay. */
  sweep(): void
}

export function createKeyBook(
  records: readonly KeyRecord[],
  { store, clock, onEnd, onTrouble }: BookOptions,
): KeyBook {
  const byHash = new Map(records.map((record) => [record.hash, record]))
  /** Those that were told to have run out. */
  const told = new Set<number>()
  const find = (id: number): KeyRecord | undefined =>
    [...byHash.values()].find((record) => record.id === id)
  const hasRunOut = ({ endsAt }: AccessKey): boolean => endsAt !== null && clock() >= endsAt
  /** Without the hash, which stays in this file. */
  const plain = (record: KeyRecord): AccessKey => {
    const { id, kind, name, scopes, bedId, madeAt, endsAt, usedAt } = record
    return { id, kind, name, scopes, bedId, madeAt, endsAt, usedAt }
  }
  return {
    all: (kind) => [...byHash.values()].filter((record) => record.kind === kind).map(plain),
    bySecret(kind, secret) {
      const hash = hashSecret(secret)
      const record = byHash.get(hash)
      if (record === undefined || record.kind !== kind || hasRunOut(record)) return null
      const now = clock()
      if (record.usedAt !== null && now - record.usedAt < USED_EVERY_MS) return plain(record)
      const used = { ...record, usedAt: now }
      byHash.set(hash, used)
      store.keyUsed(record.id, now).catch(onTrouble)
      return plain(used)
    },
    isOn(id) {
      const record = find(id)
      return record !== undefined && !hasRunOut(record)
    },
    async make(key) {
      const secret = makeSecret()
      const record = await store.addKey({
        ...key,
        madeAt: clock(),
        usedAt: null,
        hash: hashSecret(secret),
      })
      byHash.set(record.hash, record)
      return { key: plain(record), secret }
    },
    async end(kind, id) {
      const record = find(id)
      if (record === undefined || record.kind !== kind) return false
      byHash.delete(record.hash)
      told.delete(id)
      onEnd(id)
      await store.removeKeys([id])
      return true
    },
    sweep() {
      for (const record of byHash.values()) {
        // A clock that is set back makes a key good again, and it will run out again.
        if (!hasRunOut(record)) told.delete(record.id)
        else if (!told.has(record.id)) {
          told.add(record.id)
          onEnd(record.id)
        }
      }
    },
  }
}
