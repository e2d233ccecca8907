import type { Socket } from 'node:net'
import type { AuthenticateError, Client } from 'aedes'
import { networkOf } from '../model/address.ts'
import { letsIn, refuseConnect, type Strangers } from './access.ts'
import type { ProbePasswords } from './probe-passwords.ts'

/** CONNACK return codes (MQTT 3.1.1, 3.2.2.3). */
const IDENTIFIER_REJECTED = 2
const UNAVAILABLE = 3
const BAD_PASSWORD = 4
const NOT_AUTHORISED = 5

/** Who a connection was let in as. */
interface Guest {
  /** Its user name; null for somebody who gave none. */
  readonly user: string | null
  /** Since when the password it gave holds; null without one. */
  readonly since: number | null
  /** The address it comes from, of IPv6 the network. */
  readonly from: string
}

interface Refusal {
  readonly code: number
  readonly reason: string
}

export interface AdmissionOptions {
  /** @default no probe has a password */
  readonly passwords: ProbePasswords | undefined
  /** Who is let in without a probe's password. */
  readonly strangers: Strangers
  /** Hears of everybody who is not let in, and why. */
  readonly onRefused: (clientId: string, reason: string) => void
}

/** Who may come in at the embedded broker, and who those are that did. */
export interface Admission {
  /** What the broker library calls for every client that wants in. */
  readonly authenticate: (
    client: Client,
    username: string | undefined,
    password: Buffer | undefined,
    done: (error: AuthenticateError | null, success: boolean) => void,
  ) => void
  /** The user name a client came in with, or null. */
  readonly userOf: (client: Client | null) => string | null
  /** Whether a client has shown that it is the probe it says, by a password. */
  readonly hasShown: (client: Client | null) => boolean
  /** The address a client came from, of IPv6 the network: whoever has one has all of its addresses. */
  readonly addressOf: (client: Client | null) => string
  /** Whether a probe has a password of its own, taken away or not. */
  readonly needsPassword: (probe: string) => boolean
  /** Whether a client would still be let in with what it gave. */
  readonly stillHolds: (client: Client) => boolean
}

export function createAdmission(options: AdmissionOptions): Admission {
  const { passwords, strangers, onRefused } = options
  const guests = new WeakMap<Client, Guest>()

  async function admit(
    client: Client,
    user: string | null,
    password: Buffer | undefined,
  ): Promise<Guest | Refusal> {
    const misnamed = refuseConnect(client.id, user)
    if (misnamed !== null) return { code: IDENTIFIER_REJECTED, reason: misnamed }
    const { remoteAddress, localAddress } = client.conn as Socket
    const from = networkOf(remoteAddress ?? 'somewhere')
    // Under the client id of a probe a stranger would push that probe out.
    const probe = user ?? client.id
    const kept = passwords?.state(probe) ?? 'none'
    if (kept === 'revoked') {
      return { code: NOT_AUTHORISED, reason: 'its password was taken away; make a new one' }
    }
    if (kept === 'set') {
      const since = passwords?.since(probe) ?? null
      if (user === null) return { code: NOT_AUTHORISED, reason: 'it has a password and gave none' }
      const right = await passwords?.check(probe, password)
      if (right === 'busy') return { code: UNAVAILABLE, reason: 'too many logins at once' }
      return right === true
        ? { user, since, from }
        : { code: BAD_PASSWORD, reason: 'wrong password' }
    }
    if (letsIn(strangers, remoteAddress, localAddress)) return { user, since: null, from }
    return {
      code: NOT_AUTHORISED,
      reason:
        `it has no password here and comes from ${remoteAddress ?? 'somewhere'}: add it on the page of ` +
        'probes and give it its password, or set LOAMLINE_STRANGERS=anyone',
    }
  }

  async function letIn(
    client: Client,
    user: string | null,
    password: Buffer | undefined,
    done: (error: AuthenticateError | null, success: boolean) => void,
  ): Promise<void> {
    const outcome = await admit(client, user, password)
    if (!('code' in outcome)) {
      guests.set(client, outcome)
      done(null, true)
      return
    }
    const { code, reason } = outcome
    onRefused(client.id, reason)
    const error = new Error(reason) as AuthenticateError
    error.returnCode = code
    done(error, false)
  }

  return {
    authenticate(client, username, password, done) {
      const user = username === undefined || username === '' ? null : username
      letIn(client, user, password, done).catch(crash)
    },
    userOf: (client) => (client === null ? null : (guests.get(client)?.user ?? null)),
    hasShown: (client) => client !== null && (guests.get(client)?.since ?? null) !== null,
    addressOf: (client) =>
      client === null ? 'the broker' : (guests.get(client)?.from ?? 'somewhere'),
    needsPassword: (probe) => passwords !== undefined && passwords.state(probe) !== 'none',
    stillHolds(client) {
      const kept = passwords?.state(client.id) ?? 'none'
      return (
        kept === 'none' ||
        (kept === 'set' && guests.get(client)?.since === passwords?.since(client.id))
      )
    },
  }
}

/** A fault of the hub's own code must end the process, not be swallowed by a promise. */
function crash(error: unknown): void {
  setImmediate(() => {
    throw error
  })
}
