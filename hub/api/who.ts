import type { FastifyRequest } from 'fastify'
import type { Accounts, Ended, Origin } from '../accounts/open-accounts.ts'
import { EVERYTHING, scopesOf } from '../accounts/may.ts'
import { addressKey, isLoopback, passedOnFrom } from '../accounts/places.ts'
import type { Scope } from '../model/account.ts'

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

/** A cookie of a host alone: its name says so to those who look (RFC 6265bis has prefixes for HTTPS only). */
export const COOKIE = 'loamline-session'

const known = new WeakMap<FastifyRequest, Who>()

/** Who asks, decided before any route runs; 'nobody' where no hook ran. */
export const whoIs = (request: FastifyRequest): Who => known.get(request) ?? NOBODY

/** What a proxy adds: then the address of the connection says nothing of who asks. */
const PASSED_ON = ['forwarded', 'x-forwarded-for', 'x-forwarded-host', 'x-real-ip', 'via'] as const

/**
 * Where a request comes from. What passed through a proxy on this machine did not come from it, but from whom the
 * proxy says, so that one who guesses does not slow everybody. Another machine is not believed that it passes on.
 */
export function originOf(request: FastifyRequest): Origin {
  const { remoteAddress = '', localAddress } = request.socket
  const passedOn = PASSED_ON.some((header) => request.headers[header] !== undefined)
  const fromMachine = isLoopback(remoteAddress) || remoteAddress === localAddress
  const said = fromMachine ? passedOnFrom(request.headers['x-forwarded-for']) : null
  return { address: addressKey(said ?? remoteAddress), local: fromMachine && !passedOn }
}

/** Whether the connection to the reader is encrypted, as a proxy before the hub says. */
export function isEncrypted(request: FastifyRequest): boolean {
  const proto = request.headers['x-forwarded-proto']
  return request.protocol === 'https' || proto === 'https'
}

function cookieOf(header: string | undefined): string | null {
  for (const part of (header ?? '').split(';')) {
    const [name, value] = part.trim().split('=', 2)
    if (name === COOKIE && value !== undefined) return value
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
  const secret = cookieOf(request.headers.cookie)
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
