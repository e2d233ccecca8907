import type { FastifyError, FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { hasZodFastifySchemaValidationErrors } from 'fastify-type-provider-zod'
import { HubError } from '../errors.ts'
import { explain, type Finding } from './explain.ts'
import type { Problem } from './schemas/common.ts'
import { said, say, toSay } from '../words/say.ts'

/** An answer that is not the one asked for; becomes RFC 9457 problem details. */
export class ApiProblem extends Error {
  override readonly name = 'ApiProblem'
  readonly status: number
  readonly errors: Problem['errors']

  constructor(status: number, detail: string, errors?: Problem['errors']) {
    super(detail)
    this.status = status
    this.errors = errors
  }
}

/** What a person may have asked for in vain. */
const THINGS = {
  address: toSay('address'),
  'address in this API': toSay('address in this API'),
  alarm: toSay('alarm'),
  bed: toSay('bed'),
  calibration: toSay('calibration'),
  'damaged part': toSay('damaged part'),
  'feed address': toSay('feed address'),
  job: toSay('job'),
  'journal entry': toSay('journal entry'),
  person: toSay('person'),
  photo: toSay('photo'),
  plan: toSay('plan'),
  'portion of this plan': toSay('portion of this plan'),
  probe: toSay('probe'),
  'route for messages': toSay('route for messages'),
  session: toSay('session'),
  'share link': toSay('share link'),
  spot: toSay('spot'),
  'test of the soil': toSay('test of the soil'),
  token: toSay('token'),
  trial: toSay('trial'),
} as const

export const notFound = (what: keyof typeof THINGS): ApiProblem =>
  new ApiProblem(404, say`no such ${said(THINGS[what])}`)
export const badValue = (path: string, message: string): ApiProblem =>
  new ApiProblem(400, say`a value cannot be used`, [{ path, message }])

/** A garden's evening may be tomorrow already elsewhere; more than that is a slip of the pen. */
const AHEAD_MS = 24 * 3_600_000

/** Refuses a date of something that has happened when it lies in the future. */
export function notAhead(path: string, at: number, now: number): void {
  if (at > now + AHEAD_MS) {
    throw badValue(
      path,
      say`expected a time that has come, got one ${Math.round((at - now) / AHEAD_MS)} days ahead`,
    )
  }
}

const TITLES: Readonly<Record<number, string>> = {
  400: toSay('The request cannot be used'),
  401: toSay('Not signed in'),
  403: toSay('Not allowed'),
  404: toSay('Not found'),
  405: toSay('Not allowed here'),
  408: toSay('Too slow'),
  409: toSay('In the way of something else'),
  413: toSay('Too large'),
  415: toSay('Not of the kind expected'),
  421: toSay('Not the hub of that name'),
  429: toSay('Too often'),
  431: toSay('Too large'),
  500: toSay('The hub made a mistake'),
  501: toSay('Not offered here'),
  503: toSay('Not available at the moment'),
}

function problem(status: number, detail: string, errors?: Problem['errors']): Problem {
  return {
    type: 'about:blank',
    title: said(TITLES[status] ?? toSay('The request cannot be used')),
    status,
    detail,
    ...(errors === undefined ? {} : { errors }),
  }
}

/** The part of a request the schema looked at. */
function partOf(request: FastifyRequest, context: string | undefined): unknown {
  if (context === 'querystring') return request.query
  return context === 'params' ? request.params : request.body
}

/** Turns whatever a route throws into problem details, and says what was expected. */
export function toProblem(error: FastifyError | Error, request: FastifyRequest): Problem {
  if (error instanceof ApiProblem) return problem(error.status, error.message, error.errors)
  if (error instanceof HubError) return problem(503, error.message)
  if (hasZodFastifySchemaValidationErrors(error)) {
    const context = 'validationContext' in error ? String(error.validationContext) : undefined
    const rows = explain(error.validation as readonly Finding[], partOf(request, context))
    return problem(400, say`a value cannot be used`, rows)
  }
  const status = 'statusCode' in error ? (error.statusCode ?? 500) : 500
  // Fastify's own refusals (bad JSON, too large) say what came; a mistake of ours stays in the log.
  if (status === 415) return problem(status, say`expected a body of type application/json`)
  if (status === 413) {
    const most = Math.floor((request.routeOptions.bodyLimit ?? 0) / 1024)
    return problem(status, say`expected a body of at most ${most} KiB`)
  }
  if (status < 500) return problem(status, error.message)
  return problem(500, say`the log says more`)
}

/** A problem as it goes over the wire. */
export const PROBLEM_TYPE = 'application/problem+json; charset=utf-8'

/** Answers with problem details, past the schema of the route's own answer. */
export async function sendProblem(
  error: FastifyError | Error,
  request: FastifyRequest,
  reply: FastifyReply,
): Promise<void> {
  const body = toProblem(error, request)
  await reply
    .code(body.status)
    .header('content-type', PROBLEM_TYPE)
    .serializer((payload: unknown) => JSON.stringify(payload))
    .send(body)
}

const NO_HTTP = toSay('expected an HTTP/1.1 request')
/** By the code Node gives a connection that came to nothing. */
const CONNECTION_PROBLEMS: Readonly<Record<string, readonly [status: number, detail: string]>> = {
  HPE_HEADER_OVERFLOW: [
    431,
    toSay('the address and headers of the request are longer than 16 KiB'),
  ],
  ERR_HTTP_REQUEST_TIMEOUT: [408, toSay('the request came too slowly')],
}

/** What a connection gets that sent no HTTP at all, or a head too large to read. */
export function refusalBytes(code: string | undefined): string {
  const [status, detail] = CONNECTION_PROBLEMS[code ?? ''] ?? [400, NO_HTTP]
  const body = JSON.stringify(problem(status, said(detail)))
  return (
    `HTTP/1.1 ${status} ${TITLES[status]}\r\nContent-Type: ${PROBLEM_TYPE}\r\n` +
    `Content-Length: ${Buffer.byteLength(body)}\r\nConnection: close\r\n\r\n${body}`
  )
}

export function installProblems(app: FastifyInstance): void {
  app.setErrorHandler(async (error: FastifyError, request, reply) => {
    await sendProblem(error, request, reply)
    return reply
  })
}
