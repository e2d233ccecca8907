import { createHmac, randomBytes } from 'node:crypto'
import type { Credential } from '../model/credential.ts'
import type { Clock } from '../model/clock.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { BrokerFiles } from './broker-files.ts'
import { brokerHash, hashPassword, isPassword, makePassword } from './password.ts'

/** `none`: it never had one; `revoked`: nothing is let in under its id until it gets a new one. */
export type PasswordState = 'none' | 'set' | 'revoked'

/** Passwords of probes: made once, kept as hashes, asked for by the broker. */
export interface ProbePasswords {
  state(probe: string): PasswordState
  /** When the present state came about, epoch ms; null when it never had a password. */
  since(probe: string): number | null
  /** Whether a password is the probe's; `busy` when too many are being checked already. */
  check(probe: string, password: Buffer | undefined): Promise<boolean | 'busy'>
  /** When somebody last gave a wrong password for it since the hub started, epoch ms. */
  wrongAt(probe: string): number | null
  /**
   * Makes a new password; the one before stops working. It is returned here and nowhere else.
   *
   * @throws HubError HUB_STORE_UNAVAILABLE
   */
  make(probe: string): Promise<string>
  /**
   * Takes the password away; nothing is let in under this id.
   *
   * @throws HubError HUB_STORE_UNAVAILABLE
   */
  revoke(probe: string): Promise<void>
  /** Calls back once a probe's password has changed. Returns an unsubscribe. */
  onChanged(listener: (probe: string) => void): () => void
}

/** A check takes memory and time on purpose: so many at once, and so many that wait. */
const CHECKS_AT_ONCE = 2
const CHECKS_WAITING = 200

/**
 * Reads what the store knows and keeps it at hand; writes the files of a broker of one's own, where such
 * are kept, with every change.
 *
 * @throws HubError HUB_STORE_UNAVAILABLE
 */
export async function openProbePasswords(
  garden: Pick<GardenStore, 'credentials' | 'setCredential'>,
  clock: Clock,
  files: BrokerFiles | null,
): Promise<ProbePasswords> {
  const known = new Map((await garden.credentials()).map((c) => [c.probe, c]))
  const wrong = new Map<string, number>()
  const listeners = new Set<(probe: string) => void>()
  /** Passwords that proved right, as digests nobody can use: a probe that comes back is not weighed again. */
  const key = randomBytes(32)
  const proved = new Map<string, string>()
  const waiting: (() => void)[] = []
  let checking = 0
  await files?.write([...known.values()])

  /** Two changes never have the same time: it tells one password from the next. */
  function nextSince(probe: string): number {
    return Math.max(clock(), (known.get(probe)?.setAt ?? -1) + 1)
  }

  async function set(credential: Credential): Promise<void> {
    await garden.setCredential(credential)
    known.set(credential.probe, credential)
    proved.delete(credential.probe)
    wrong.delete(credential.probe)
    for (const listener of listeners) listener(credential.probe)
    await files?.write([...known.values()])
  }

  async function weigh(password: Buffer, hash: string): Promise<boolean | 'busy'> {
    if (checking < CHECKS_AT_ONCE) checking++
    else {
      if (waiting.length >= CHECKS_WAITING) return 'busy'
      await new Promise<void>((resolve) => waiting.push(resolve))
    }
    try {
      return await isPassword(password, hash)
    } finally {
      // Whoever waits longest takes the place over.
      const next = waiting.shift()
      if (next === undefined) checking--
      else next()
    }
  }

  function stateOf(probe: string): PasswordState {
    const credential = known.get(probe)
    if (credential === undefined) return 'none'
    return credential.hash === null ? 'revoked' : 'set'
  }

  return {
    state: stateOf,
    since: (probe) => known.get(probe)?.setAt ?? null,
    wrongAt: (probe) => wrong.get(probe) ?? null,
    async check(probe, password) {
      const hash = known.get(probe)?.hash ?? null
      if (hash === null || password === undefined) return false
      const digest = createHmac('sha256', key).update(password).digest('base64')
      if (proved.get(probe) === digest) return true
      const right = await weigh(password, hash)
      // It may have been changed while it was weighed.
      if (right === true && known.get(probe)?.hash !== hash) return false
      if (right === true) proved.set(probe, digest)
      if (right === false) wrong.set(probe, clock())
      return right
    },
    async make(probe) {
      const password = makePassword()
      const [hash, forBroker] = await Promise.all([hashPassword(password), brokerHash(password)])
      await set({ probe, setAt: nextSince(probe), hash, brokerHash: forBroker })
      return password
    },
    revoke: (probe) => set({ probe, setAt: nextSince(probe), hash: null, brokerHash: null }),
    onChanged(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
  }
}
