import { once } from 'node:events'
import { createServer, type IncomingHttpHeaders } from 'node:http'
import type { AddressInfo } from 'node:net'

export interface Received {
  readonly headers: IncomingHttpHeaders
  readonly body: string
  readonly event: { readonly id: string; readonly [member: string]: unknown }
}

/** How it treats what comes: a status, `hang` never answers, `cut` takes everything and breaks the line. */
export type Manner = number | 'hang' | 'cut'

export interface WebhookReceiver extends AsyncDisposable {
  readonly url: string
  readonly port: number
  /** What it answered with 2xx, and everything that reached it. */
  readonly taken: Received[]
  readonly seen: Received[]
  manner: Manner
  stop(): Promise<void>
  start(): Promise<void>
}

/** A receiver of webhooks of one test on 127.0.0.1. */
export async function startReceiver(): Promise<WebhookReceiver> {
  let port = 0
  const taken: Received[] = []
  const seen: Received[] = []
  const make = () =>
    createServer((request, response) => {
      const parts: Buffer[] = []
      request.on('data', (part: Buffer) => parts.push(part))
      request.on('end', () => {
        const body = Buffer.concat(parts).toString()
        const event = JSON.parse(body) as Received['event']
        const { headers } = request
        const { manner } = receiver
        seen.push({ headers, body, event })
        if (manner === 'hang') return
        if (manner === 'cut') {
          request.socket.destroy()
          return
        }
        if (manner >= 200 && manner < 300) taken.push({ headers, body, event })
        if (manner >= 300 && manner < 400) response.setHeader('location', '/elsewhere')
        response.statusCode = manner
        response.end(`said ${manner}`)
      })
    })
  let server = make()
  async function start(): Promise<void> {
    server = make()
    server.listen(port, '127.0.0.1')
    await once(server, 'listening')
    port = (server.address() as AddressInfo).port
  }
  async function stop(): Promise<void> {
    if (!server.listening) return
    server.closeAllConnections()
    await new Promise<void>((resolve) => server.close(() => resolve()))
  }
  await start()
  const receiver: WebhookReceiver = {
    url: `http://127.0.0.1:${port}/alarms`,
    port,
    taken,
    seen,
    manner: 200,
    stop,
    start,
    [Symbol.asyncDispose]: stop,
  }
  return receiver
}
