import type { IncomingHttpHeaders } from 'node:http'
import { isIP } from 'node:net'
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { may } from '../accounts/may.ts'
import { answersTo, hostName } from '../accounts/places.ts'
import { say } from '../words/say.ts'
import { needFor, type Need } from './access-table.ts'
import type { ApiDeps } from './deps.ts'
import { ApiProblem, notFound } from './problem.ts'
import type { RequestLimits } from './request-limits.ts'
import { decideWay, decideWho, keyHolder, type Who } from './who.ts'

/** Whether a host is asked for by a name that is its own alone. */
function isName(host: string): boolean {
  const name = hostName(host)
  return name !== null && isIP(name) === 0 && name !== 'localhost'
}

const isSafe = (method: string): boolean => ['GET', 'HEAD', 'OPTIONS'].includes(method)

/**
 * Refuses a change that a page of another site asks for. Such a page cannot read the answer, but without
 * this it could acknowledge an alarm in passing. Programs send neither header and are let through, unless they come
 * with the cookie of a browser.
 */
function refuseOtherSites(headers: IncomingHttpHeaders, withCookie: boolean): void {
  const { origin, host } = headers
  const site = headers['sec-fetch-site']
  if (site === 'same-origin') return
  if (origin === undefined) {
    if (site === undefined ? !withCookie : site === 'none') return
  } else if (URL.canParse(origin) && new URL(origin).host === host) return
  const from = origin ?? site ?? 'a page that does not say where it is from'
  throw new ApiProblem(403, `expected a request from the hub's own pages, got one from ${from}`)
}

/** A page of a name that is not the hub's reads nothing here, whatever that name leads to. */
function refuseOtherNames(host: string, names: readonly string[]): void {
  if (answersTo(host, names)) return
  throw new ApiProblem(
    421,
    `the hub does not answer to the name '${host.slice(0, 100)}'; if it is its own, add it to LOAMLINE_HTTP_NAMES`,
  )
}

/** Who asks by the secret in the address itself, at the addresses that have one. */
function bySecret(request: FastifyRequest, need: Need, deps: ApiDeps): Who | null {
  if (need === 'shared') {
    const { key = '' } = request.params as { key?: string }
    return keyHolder('share', key, deps.accounts)
  }
  if (need !== 'feed') return null
  const { key } = request.query as { key?: unknown }
  return typeof key === 'string' ? keyHolder('feed', key, deps.accounts) : null
}

function isAllowed(who: Who, need: Need): boolean {
  switch (need) {
    case 'anyone':
      return true
    case 'signed in':
      return who.kind === 'person'
    case 'shared':
      return who.kind === 'share'
    case 'feed':
      return who.kind === 'feed' || may(who.scopes, 'read')
    case 'read':
    case 'enter':
    case 'change':
    case 'own':
      return may(who.scopes, need)
  }
}

/** Why somebody is not let in, in words for them. */
function refusal(who: Who, need: Need): ApiProblem {
  if (need === 'shared') return notFound('share link')
  if (who.kind === 'elsewhere') {
    return new ApiProblem(
      403,
      say`Nobody owns this hub yet. Until somebody does, only its own machine may do this: make the owner first, on the page /sign-in.`,
    )
  }
  if (who.kind === 'nobody' || (need === 'signed in' && who.kind !== 'person')) {
    return new ApiProblem(401, say`Sign in first.`)
  }
  if (who.kind === 'person') {
    return new ApiProblem(403, say`${who.name ?? ''} may look at everything here, but not do this.`)
  }
  return new ApiProblem(403, `expected a token with the scope '${need}'`)
}

/**
 * What browsers are told on every answer, so that none of it is of use to another page.
 *
 * @param hstsS for how long they are asked to keep to HTTPS, s; 0: they are not
 */
export function holdBack(request: FastifyRequest, reply: FastifyReply, hstsS: number): void {
  void reply.header('x-content-type-options', 'nosniff')
  void reply.header('referrer-policy', 'no-referrer')
  void reply.header('x-frame-options', 'DENY')
  void reply.header('cross-origin-opener-policy', 'same-origin')
  void reply.header('cross-origin-resource-policy', 'same-origin')
  // Only a name can be kept to HTTPS (RFC 6797, 8.1.1), and only the hub's own line is the hub's to promise.
  if (hstsS > 0 && request.protocol === 'https' && isName(request.headers.host ?? '')) {
    void reply.header('strict-transport-security', `max-age=${hstsS}`)
  }
  const isApi = request.url.startsWith('/api')
  // What one person may see must not wait in a cache for the next.
  if (isApi && !reply.hasHeader('cache-control')) {
    void reply.header('cache-control', 'private, no-cache')
  }
  if (reply.hasHeader('content-security-policy')) return
  void reply.header(
    'content-security-policy',
    isApi
      ? "default-src 'none'; frame-ancestors 'none'"
      : // Probe-supplied text is shown on these pages: nothing but our own script may run.
        "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; " +
          "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
  )
}

/** One hook before all routes: is the hub meant, who asks, and may they. */
export function installGuard(app: FastifyInstance, deps: ApiDeps, limits: RequestLimits): void {
  const { names, proxyHeader, hstsS } = deps.http
  app.addHook('onRequest', async (request, reply) => {
    decideWay(request, proxyHeader)
    const { url: route } = request.routeOptions
    const need = needFor(request.method, route)
    const who = decideWho(request, deps.accounts, bySecret(request, need, deps) ?? undefined)
    await limits(request, reply, who)
    refuseOtherNames(request.headers.host ?? '', names)
    if (!isSafe(request.method)) refuseOtherSites(request.headers, who.sessionId !== null)
    if (isAllowed(who, need)) return
    const problem = refusal(who, need)
    if (problem.status === 401) void reply.header('www-authenticate', 'Bearer realm="Loamline"')
    throw problem
  })
  app.addHook('onSend', async (request, reply) => holdBack(request, reply, hstsS))
}
