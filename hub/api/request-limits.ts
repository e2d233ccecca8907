import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { MINUTE } from '../model/clock.ts'
import { say } from '../words/say.ts'
import { ApiProblem } from './problem.ts'
import { originOf, type Who } from './who.ts'

/** Requests a minute. */
export interface RequestLimitsOptions {
  /** Of one address. A page with a dozen beds asks for about sixty things when it opens. @default 1200 */
  readonly unknown?: number
  /** Of one who is known: a viewer, a token. @default 2400 */
  readonly known?: number
  /** Of what reads or writes a whole file, or keeps the hub busy for long. @default 60 */
  readonly heavy?: number
}

const HEAVY: ReadonlySet<string> = new Set([
  'GET /api/export/readings.csv',
  'GET /api/export/readings.lp',
  'POST /api/import/look',
  'POST /api/import/check',
  'POST /api/import/store',
  'PUT /api/journal/:id/photo',
  'POST /api/jobs',
  'GET /api/backup.tar',
  'GET /api/damaged/:id/bytes',
  'POST /api/damaged/bring-back',
])

/** Whom a request counts for; null: it is not counted. */
function countedAs(request: FastifyRequest, who: Who): string | null {
  const { address, local } = originOf(request)
  // Who is at the machine, or owns it, can stop it in simpler ways.
  if (local || who.kind === 'terminal') return null
  if (who.kind === 'person') return who.scopes.includes('own') ? null : `person ${who.personId}`
  // A link that many people have is counted by where they are, as are those nobody knows.
  if (who.kind === 'token') return `token ${who.keyId}`
  return `from ${address}`
}

export type RequestLimits = (
  request: FastifyRequest,
  reply: FastifyReply,
  who: Who,
) => Promise<void>

/** How often one may ask: enough for any page and program, not for a flood. `@fastify/rate-limit` must be there. */
export function createRequestLimits(
  app: FastifyInstance,
  most: RequestLimitsOptions = {},
): RequestLimits {
  const keys = new WeakMap<FastifyRequest, string>()
  const keyGenerator = (request: FastifyRequest): string => keys.get(request) ?? ''
  const limiter = (max: number) => app.createRateLimit({ max, timeWindow: MINUTE, keyGenerator })
  const unknown = limiter(most.unknown ?? 1200)
  const known = limiter(most.known ?? 2400)
  const heavy = limiter(most.heavy ?? 60)

  return async (request, reply, who) => {
    const key = countedAs(request, who)
    if (key === null) return
    keys.set(request, key)
    const route = `${request.method} ${request.routeOptions.url ?? ''}`
    const checks = [key.startsWith('from ') ? unknown : known]
    if (HEAVY.has(route)) checks.push(heavy)
    for (const check of checks) {
      const found = await check(request)
      if (found.isAllowed || !found.isExceeded) continue
      const seconds = Math.max(1, found.ttlInSeconds)
      void reply.header('retry-after', String(seconds))
      throw new ApiProblem(
        429,
        say`Too many requests: at most ${found.max} a minute. Try again in ${seconds} s.`,
      )
    }
  }
}
