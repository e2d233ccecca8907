import type { FastifyRequest } from 'fastify'
import type { Accounts, Ended, Origin } from '../accounts/open-accounts.ts'
import { EVERYTHING, scopesOf } from '../accounts/may.ts'
import { isLoopback, lastForwarded, passedOnFrom } from '../accounts/places.ts'
import type { Scope } from '../model/account.ts'
import { networkOf } from '../model/address.ts'
import type { HttpPlace } from './deps.ts'

/**
 * Who asks. `here`: somebody at the hub's own machine while there is no owner. `elsewhere`: another machine while
 * there is none. `terminal`: a command of the hub at this machine.
 */
export interface Who {
  readonly kind:
    | 'nobody'
    | 'here'
    | 'elsewhere'
    | 'person'
    | 'token'
    | 'share'
    | 'feed'
    | 'terminal'
  /** What is written beside what they do; null: they have no name. */
  readonly name: string | null
  readonly scopes: readonly Scope[]
  readonly personId: number | null
  readonly sessionId: number | null
  readonly keyId: number | null
  /** The bed a share link shows. */
  readonly bedId: number | null
}

const NOBODY: Who = {
  kind: 'nobody',
  name: null,
  scopes: [],
  personId: null,
  sessionId: null,
  keyId: null,
  bedId: null,
}

/** The cookie of a session that came over plain HTTP. */
export const COOKIE = 'loamline-session'
/**
 * The same over HTTPS. A browser takes a name like this from HTTPS alone, for this host alone (RFC 6265bis, 4.1.3.2), so
 * that nobody in between can slip one in; and of two names neither keeps the other from being set.
 */
export const SECURE_COOKIE = '__Host-loamline-session'

/** The cookie that counts on this way. */
export const cookieName = (request: FastifyRequest): string =>
  isEncrypted(request) ? SECURE_COOKIE : COOKIE

const known = new WeakMap<FastifyRequest, Who>()

/** Who asks, decided before any route runs; 'nobody' where no hook ran. */
export const whoIs = (request: FastifyRequest): Who => known.get(request) ?? NOBODY

/** What a proxy adds: then the address of the connection says nothing of who asks. */
const PASSED_ON = ['forwarded', 'x-forwarded-for', 'x-forwarded-host', 'x-real-ip', 'via'] as const

/** Where a request comes from, and how, as it is told by the connection and by a proxy that is believed. */
interface Way {
  readonly origin: Origin
  readonly encrypted: boolean
}

const ways = new WeakMap<FastifyRequest, Way>()

/** What the proxy says in the header it is known to write. The others may be anybody's. */
function saidBy(
  header: HttpPlace['proxyHeader'],
  { headers }: FastifyRequest,
): { readonly address: string | null; readonly proto: unknown } {
  const proto = headers['x-forwarded-proto']
  switch (header) {
    case 'forwarded':
      return lastForwarded(headers.forwarded)
    case 'x-real-ip':
      return { address: passedOnFrom(headers['x-real-ip']), proto }
    case 'x-forwarded-for':
      return { address: passedOnFrom(headers['x-forwarded-for']), proto }
    case 'none':
      return { address: null, proto: null }
  }
}

/**
 * Decides where a request comes from, and remembers it. What passed through a proxy on this machine did not come from
 * it, but from whom the proxy says, so that one who guesses does not slow everybody. Another machine is not believed
 * that it passes on; only that the line to its reader is encrypted, which makes no more of whoever says it.
 */
export function decideWay(request: FastifyRequest, header: HttpPlace['proxyHeader']): void {
  const { remoteAddress = '', localAddress } = request.socket
  const passedOn = PASSED_ON.some((name) => request.headers[name] !== undefined)
  const fromMachine = isLoopback(remoteAddress) || remoteAddress === localAddress
  const said = saidBy(header, request)
  const address = fromMachine ? (said.address ?? remoteAddress) : remoteAddress
  ways.set(request, {
    origin: { address: networkOf(address), local: fromMachine && !passedOn },
    encrypted: request.protocol === 'https' || said.proto === 'https',
  })
}

/** Where a request comes from. */
export function originOf(request: FastifyRequest): Origin {
  const way = ways.get(request)
  // Nobody is taken for somebody at the machine because a hook was forgotten.
  return way?.origin ?? { address: request.socket.remoteAddress ?? '', local: false }
}

/** Whether the connection to the reader is encrypted, by the hub or, as it says, by a proxy before it. */
export function isEncrypted(request: FastifyRequest): boolean {
  return ways.get(request)?.encrypted ?? request.protocol === 'https'
}

function cookieOf(request: FastifyRequest): string | null {
  const wanted = cookieName(request)
  for (const part of (request.headers.cookie ?? '').split(';')) {
    const [name, value] = part.trim().split('=', 2)
    if (name === wanted && value !== undefined) return value
  }
  return null
}

/** A token, a share link, the session of a browser, or, while there is no owner, the machine alone. */
function find(request: FastifyRequest, accounts: Accounts): Who {
  const bearer = /^Bearer +([\w-]{20,})$/i.exec(request.headers.authorization ?? '')?.[1]
  if (bearer !== undefined) {
    if (accounts.isLocalKey(bearer)) return { ...NOBODY, kind: 'terminal', scopes: EVERYTHING }
    const key = accounts.keys.bySecret('token', bearer)
    // A token that is none is never worth what a session or the machine is.
    if (key === null && accounts.hasOwner()) return NOBODY
    if (key !== null)
      return { ...NOBODY, kind: 'token', name: key.name, scopes: key.scopes, keyId: key.id }
  }
  const secret = cookieOf(request)
  const session = secret === null ? null : accounts.sessions.bySecret(secret)
  const person = session === null ? null : accounts.person(session.personId)
  if (session !== null && person !== null) {
    return {
      ...NOBODY,
      kind: 'person',
      name: person.name,
      scopes: scopesOf(person.role),
      personId: person.id,
      sessionId: session.id,
    }
  }
  if (accounts.hasOwner()) return NOBODY
  return originOf(request).local
    ? { ...NOBODY, kind: 'here', scopes: EVERYTHING }
    : { ...NOBODY, kind: 'elsewhere', scopes: ['read'] }
}

/** Decides who asks and remembers it for the routes. */
export function decideWho(request: FastifyRequest, accounts: Accounts, who?: Who): Who {
  const decided = who ?? find(request, accounts)
  known.set(request, decided)
  return decided
}

/** Who has the secret of a share link or of the feed address; null when it is none. */
export function keyHolder(kind: 'share' | 'feed', secret: string, accounts: Accounts): Who | null {
  const key = accounts.keys.bySecret(kind, secret)
  return key === null ? null : { ...NOBODY, kind, keyId: key.id, bedId: key.bedId }
}

/** Ends something open, such as a live stream, as soon as who opened it is no longer let in. */
export function whileLetIn(
  request: FastifyRequest,
  accounts: Accounts,
  end: () => void,
): () => void {
  const { kind, sessionId, keyId } = whoIs(request)
  const isTheirs = (ended: Ended): boolean => {
    if (ended.what === 'open house') return kind === 'here' || kind === 'elsewhere'
    return ended.id === (ended.what === 'session' ? sessionId : keyId)
  }
  return accounts.onEnd((ended) => {
    if (isTheirs(ended)) end()
  })
}
