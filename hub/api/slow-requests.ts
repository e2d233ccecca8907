import type { FastifyInstance, FastifyRequest } from 'fastify'
import { SECOND } from '../model/clock.ts'

export interface SlowRequestOptions {
  /** A body of the usual size has to be here by then, ms. @default 30 s */
  readonly wholeMs?: number
  /** A file may take its time, but something has to come within this, ms. @default 20 s */
  readonly stallMs?: number
  /** What has to come within it, bytes. @default 1024 */
  readonly leastBytes?: number
}

/** From here on a body is a file. */
const FILE_BYTES = 512 * 1024

interface Watched {
  readonly request: FastifyRequest
  readonly startedAt: number
  readonly isFile: boolean
  bytes: number
  since: number
}

/**
 * Ends requests whose body trickles in: each holds a connection, and enough of them would hold all. Node's own limit is
 * on the whole request, which a large file on a slow line needs minutes for.
 *
 * @param onSlow answers and ends the connection
 */
export function installSlowRequests(
  app: FastifyInstance,
  onSlow: (request: FastifyRequest) => void,
  options: SlowRequestOptions = {},
): void {
  const { wholeMs = 30 * SECOND, stallMs = 20 * SECOND, leastBytes = 1024 } = options
  const open = new Set<Watched>()
  const now = (): number => performance.now()

  app.addHook('onRequest', (request, _reply, done) => {
    const { headers } = request
    const hasBody =
      headers['transfer-encoding'] !== undefined || Number(headers['content-length'] ?? 0) > 0
    if (hasBody) {
      open.add({
        request,
        startedAt: now(),
        isFile: (request.routeOptions.bodyLimit ?? 0) > FILE_BYTES,
        bytes: request.raw.socket.bytesRead,
        since: now(),
      })
    }
    done()
  })

  function isSlow(watched: Watched, at: number): boolean {
    const { raw } = watched.request
    const { bytesRead } = raw.socket
    // What lies here unread is held up by the hub, not by who sends.
    if (bytesRead - watched.bytes >= leastBytes || raw.readableLength > 0) {
      watched.bytes = bytesRead
      watched.since = at
    }
    return watched.isFile ? at - watched.since > stallMs : at - watched.startedAt > wholeMs
  }

  const timer = setInterval(
    () => {
      for (const watched of open) {
        const { raw } = watched.request
        if (raw.complete || raw.destroyed) open.delete(watched)
        else if (isSlow(watched, now())) {
          open.delete(watched)
          onSlow(watched.request)
        }
      }
    },
    Math.min(wholeMs, stallMs) / 4,
  )
  timer.unref()
  app.addHook('onClose', (_app, done) => {
    clearInterval(timer)
    done()
  })
}
