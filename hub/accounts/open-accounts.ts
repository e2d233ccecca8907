import type { Person, PersonRecord, Role, Session } from '../model/account.ts'
import { MINUTE, SECOND, type Clock } from '../model/clock.ts'
import type { AccountStore } from '../store/account-store.ts'
import { createGate } from './gate.ts'
import { createKeyBook, type KeyBook } from './key-book.ts'
import { hashOfNobody, hashPassword, isPassword } from './password.ts'
import { hashSecret, makeCode, makeSecret, plainCode } from './secret.ts'
import { createSessionBook, type BookOptions, type SessionBook } from './session-book.ts'
import { createSlowDown } from './slow-down.ts'

/** Each hash takes 46 MiB while it is made. */
const HASHES_AT_ONCE = 2
const HASHES_WAITING = 16
/** At the hub's own machine guessing is slowed, too, but never so that the owner cannot get in. */
const LONGEST_WAIT_HERE = 5 * SECOND
/**
 * Guesses under a name, from however many addresses, keep whose name it is out for no longer than this after each;
 * who goes on guessing keeps them out again, but never at the hub's own machine. An address from which much was
 * guessed waits for longer, and so does everybody behind a proxy that does not say whom it passes on.
 */
const LONGEST_WAIT_OF_NAME = MINUTE

/** Where a try to sign in comes from. */
export interface Origin {
  /** What wrong tries are counted under. */
  readonly address: string
  /** On the hub's own machine. */
  readonly local: boolean
}

/** What came of trying: `wrong` says nothing of what was wrong. */
export type Tried<T> =
  | { readonly status: 'in'; readonly value: T }
  | { readonly status: 'wrong' }
  | { readonly status: 'wait'; readonly ms: number }

/** What is over: a session, a key, or (with the first owner) that everybody here may do everything. */
export type Ended =
  | { readonly what: 'session' | 'key'; readonly id: number }
  | { readonly what: 'open house' }

export interface Accounts {
  hasOwner(): boolean
  people(): readonly Person[]
  person(id: number): Person | null
  readonly sessions: SessionBook
  readonly keys: KeyBook
  signIn(
    name: string,
    password: string,
    from: Origin,
    device: string,
  ): Promise<Tried<{ person: Person; session: Session; secret: string }>>
  /** Null when the name is taken. */
  addPerson(name: string, role: Role, password: string): Promise<Person | 'taken'>
  changePerson(
    id: number,
    change: { name: string; role: Role },
  ): Promise<Person | 'taken' | 'last owner' | null>
  removePerson(id: number): Promise<'removed' | 'last owner' | null>
  /** Ends all sessions of theirs. */
  setPassword(id: number, password: string): Promise<Person | null>
  /** Whether it is theirs; slowed like signing in. */
  isPassword(id: number, password: string, from: Origin): Promise<Tried<true>>
  /** Makes the code that stands in the log, for making the first owner from another machine. */
  ownerCode(): string
  isOwnerCode(typed: string, from: Origin): Tried<true>
  /** What the commands at this machine show; it stands in a file of the data folder. */
  readonly localKey: string
  isLocalKey(key: string): boolean
  onEnd(listener: (ended: Ended) => void): () => void
  stop(): void
}

export interface AccountsOptions {
  readonly store: AccountStore
  readonly clock: Clock
  readonly onTrouble: (error: unknown) => void
}

/** Too many hashes are wanted at once. */
const BUSY_MS = 2 * SECOND
const SWEEP_EVERY_MS = MINUTE

/** Opens what is known of people; all of it stays in memory, every change is written through. */
export async function openAccounts(options: AccountsOptions): Promise<Accounts> {
  const { store, clock, onTrouble } = options
  const records = await store.accounts()
  const people = new Map(records.people.map((person) => [person.id, person]))
  const listeners = new Set<(ended: Ended) => void>()
  const tell = (ended: Ended): void => listeners.forEach((listener) => listener(ended))
  const bookOptions = (what: 'session' | 'key'): BookOptions => ({
    store,
    clock,
    onTrouble,
    onEnd: (id) => tell({ what, id }),
  })
  const sessions = createSessionBook(records.sessions, bookOptions('session'))
  const keys = createKeyBook(records.keys, bookOptions('key'))
  const sweep = setInterval(() => {
    keys.sweep()
    sessions.sweep().catch(onTrouble)
  }, SWEEP_EVERY_MS)
  sweep.unref()

  const gate = createGate(HASHES_AT_ONCE, HASHES_WAITING)
  const byAddress = createSlowDown()
  const byName = createSlowDown({ longest: LONGEST_WAIT_OF_NAME })
  const here = createSlowDown({ longest: LONGEST_WAIT_HERE })
  const localKey = makeSecret()
  let code: string | null = null
  let nobody: Promise<string> | undefined

  const plain = ({ id, name, role, createdAt, passwordAt }: PersonRecord): Person => ({
    id,
    name,
    role,
    createdAt,
    passwordAt,
  })
  const nameKey = (name: string): string => name.trim().normalize('NFKC').toLowerCase()
  const owners = (): PersonRecord[] => [...people.values()].filter(({ role }) => role === 'owner')
  const endSessionsOf = (id: number): Promise<void> =>
    sessions.end(sessions.of(id).map((session) => session.id))

  /** Slowed by where it comes from and, from elsewhere, by the name it is about. */
  async function tried(
    name: string,
    from: Origin,
    check: () => Promise<boolean> | null,
  ): Promise<Tried<true>> {
    const now = clock()
    const doors = from.local
      ? [{ slow: here, key: '' }]
      : [
          { slow: byAddress, key: from.address },
          { slow: byName, key: name },
        ]
    const ms = Math.max(...doors.map(({ slow, key }) => slow.wait(key, now)))
    if (ms > 0) return { status: 'wait', ms }
    const answer = check()
    if (answer === null) return { status: 'wait', ms: BUSY_MS }
    for (const { slow, key } of doors) slow.begin(key, now)
    if (!(await answer)) return { status: 'wrong' }
    for (const { slow, key } of doors) slow.passed(key)
    return { status: 'in', value: true }
  }
  async function hashed(password: string): Promise<string> {
    // Only who is in already sets passwords: waiting is better than refusing.
    const made = gate.pass(() => hashPassword(password))
    return made ?? hashPassword(password)
  }

  return {
    hasOwner: () => owners().length > 0,
    people: () => [...people.values()].map(plain),
    person: (id) => {
      const found = people.get(id)
      return found === undefined ? null : plain(found)
    },
    sessions,
    keys,
    async signIn(name, password, from, device) {
      const person = [...people.values()].find((p) => nameKey(p.name) === nameKey(name))
      nobody ??= hashOfNobody()
      const answer = await tried(nameKey(name), from, () =>
        gate.pass(async () => {
          const isTheirs = await isPassword(password, person?.hash ?? (await nobody!))
          return isTheirs && person !== undefined
        }),
      )
      if (answer.status !== 'in') return answer
      // Removed, or given another password, while this one was being checked.
      const still = person === undefined ? undefined : people.get(person.id)
      if (still === undefined || still.hash !== person?.hash) return { status: 'wrong' }
      const { session, secret } = await sessions.begin(still.id, device)
      return { status: 'in', value: { person: plain(still), session, secret } }
    },
    async addPerson(name, role, password) {
      const now = clock()
      const hash = await hashed(password)
      const added = await store.addPerson({ name, role, createdAt: now, passwordAt: now, hash })
      if (added === null) return 'taken'
      const isFirst = role === 'owner' && owners().length === 0
      people.set(added.id, added)
      if (isFirst) {
        code = null
        tell({ what: 'open house' })
      }
      return plain(added)
    },
    async changePerson(id, { name, role }) {
      const old = people.get(id)
      if (old === undefined) return null
      if (old.role === 'owner' && role !== 'owner' && owners().length === 1) return 'last owner'
      const changed = await store.changePerson({ ...old, name, role })
      if (changed === null) return 'taken'
      people.set(id, changed)
      return plain(changed)
    },
    async removePerson(id) {
      const old = people.get(id)
      if (old === undefined) return null
      if (old.role === 'owner' && owners().length === 1) return 'last owner'
      people.delete(id)
      await endSessionsOf(id)
      await store.removePerson(id)
      return 'removed'
    },
    async setPassword(id, password) {
      const hash = await hashed(password)
      const old = people.get(id)
      if (old === undefined) return null
      const changed = await store.changePerson({ ...old, hash, passwordAt: clock() })
      if (changed === null) return null
      people.set(id, changed)
      await endSessionsOf(id)
      return plain(changed)
    },
    async isPassword(id, password, from) {
      const person = people.get(id)
      if (person === undefined) return { status: 'wrong' }
      return tried(nameKey(person.name), from, () =>
        gate.pass(() => isPassword(password, person.hash)),
      )
    },
    ownerCode: () => (code ??= makeCode()),
    isOwnerCode(typed, from) {
      const now = clock()
      const ms = byAddress.wait(from.address, now)
      if (ms > 0) return { status: 'wait', ms }
      byAddress.begin(from.address, now)
      // Hashes of equal length: how long it takes says nothing of how much was right.
      const isRight = code !== null && hashSecret(plainCode(typed)) === hashSecret(plainCode(code))
      if (!isRight) return { status: 'wrong' }
      byAddress.passed(from.address)
      return { status: 'in', value: true }
    },
    localKey,
    isLocalKey: (key) => hashSecret(key) === hashSecret(localKey),
    onEnd(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    stop: () => clearInterval(sweep),
  }
}
