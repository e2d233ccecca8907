import { createServer } from 'node:http'
import type { Server } from 'node:http'
import { HubError } from '../errors.ts'
import type { Clock } from '../model/clock.ts'
import type { IngestRole, IngestRoleState } from './open-ingest-role.ts'

/** How an ingest process is, as it answers at /api/health. */
export interface IngestHealth {
  readonly role: 'ingest'
  readonly status: 'ok' | 'trouble'
  readonly version: string
  /** Epoch ms, as all times here. */
  readonly startedAt: number
  readonly now: number
  readonly clientId: string
  readonly broker: {
    readonly state: 'up' | 'connecting' | 'down'
    readonly address: string
    readonly since: number
    readonly problem: string | null
  }
  readonly spool: {
    readonly state: 'up' | 'connecting' | 'down'
    readonly since: number
    readonly problem: string | null
    /** On the disk. */
    readonly bytes: number
    /** Free room on that disk; null: cannot be told. */
    readonly freeBytes: number | null
    /** Messages taken since the start. */
    readonly kept: number
  }
  readonly forwarding: {
    readonly state: 'up' | 'down'
    readonly since: number
    readonly problem: string | null
    /** Messages that are not in the log yet, and when the oldest of them came. */
    readonly waiting: number
    readonly oldestAt: number | null
    readonly attempts: number
    readonly nextTryAt: number | null
    /** Messages that are in the log and not known to be taken by the serving hub. */
    readonly notTaken: number
    /** Whether a serving hub has said how far it is. */
    readonly served: boolean
  }
}

export function healthOf(
  state: IngestRoleState,
  facts: Pick<IngestHealth, 'version' | 'startedAt' | 'now' | 'clientId'> & {
    readonly address: string
    readonly freeBytes: number | null
  },
): IngestHealth {
  const { broker, taking, forwarding, kept } = state
  const { version, startedAt, now, clientId, address, freeBytes } = facts
  const well = broker.state === 'up' && taking.state === 'up' && forwarding.problem === null
  return {
    role: 'ingest',
    status: well ? 'ok' : 'trouble',
    version,
    startedAt,
    now,
    clientId,
    broker: { ...broker, address },
    spool: { ...taking, bytes: forwarding.bytes, freeBytes, kept },
    forwarding: {
      state: forwarding.problem === null ? 'up' : 'down',
      since: forwarding.since,
      problem: forwarding.problem,
      waiting: forwarding.waiting,
      oldestAt: forwarding.oldestWaitingAt,
      attempts: forwarding.attempts,
      nextTryAt: forwarding.nextTryAt,
      notTaken: forwarding.delivered - forwarding.taken,
      served: forwarding.served,
    },
  }
}

/**
 * Answers GET /api/health and nothing else: no settings, no readings, nothing to change.
 *
 * @throws HubError HUB_PORT_IN_USE
 */
export async function serveHealth(options: {
  readonly host: string
  readonly port: number
  readonly role: IngestRole
  readonly version: string
  readonly clientId: string
  readonly clock: Clock
  readonly freeBytes: () => Promise<number | null>
  /** Whether it goes by what a Host header says; a page of another site must not lead its own name here. */
  readonly answersTo: (host: string) => boolean
  readonly onTrouble: (error: unknown) => void
}): Promise<{ stop(): Promise<void> }> {
  const { host, port, role, version, clientId, clock } = options
  const startedAt = clock()

  async function health(): Promise<string> {
    const facts = {
      version,
      startedAt,
      now: clock(),
      clientId,
      address: role.address,
      freeBytes: await options.freeBytes(),
    }
    return JSON.stringify(healthOf(await role.state(), facts))
  }

  const server = createServer((request, response) => {
    const answer = (status: number, body: string): void => {
      response.writeHead(status, {
        'content-type': status === 200 ? 'application/json' : 'text/plain; charset=utf-8',
        'cache-control': 'no-store',
        'x-content-type-options': 'nosniff',
        'cross-origin-resource-policy': 'same-origin',
      })
      response.end(request.method === 'HEAD' ? undefined : body)
    }
    const path = (request.url ?? '').split('?')[0]
    if (!options.answersTo(request.headers.host ?? ''))
      answer(
        421,
        'this process does not answer to that name; if it is its own, add it to LOAMLINE_HTTP_NAMES\n',
      )
    else if (path !== '/api/health')
      answer(404, 'An ingest process answers at /api/health alone.\n')
    else if (request.method !== 'GET' && request.method !== 'HEAD') answer(405, 'expected GET\n')
    else
      health().then(
        (body) => answer(200, body),
        (error: unknown) => {
          answer(500, 'the state of the spool cannot be read\n')
          options.onTrouble(error)
        },
      )
  })
  server.headersTimeout = 10_000
  server.requestTimeout = 10_000
  server.maxConnections = 100
  await listening(server, host, port)
  return {
    stop: () =>
      new Promise((resolve) => {
        server.close(() => resolve())
        server.closeAllConnections()
      }),
  }
}

function listening(server: Server, host: string, port: number): Promise<void> {
  return new Promise((resolve, reject) => {
    server.once('error', (cause: NodeJS.ErrnoException) => {
      const taken = cause.code === 'EADDRINUSE'
      const message = taken
        ? `port ${port} is taken by another program; set LOAMLINE_HTTP_PORT to a free one`
        : `cannot listen on ${host}:${port}: ${cause.message}`
      reject(new HubError('HUB_PORT_IN_USE', message, { retry: false, cause }))
    })
    server.listen(port, host, () => resolve())
  })
}
