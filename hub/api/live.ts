import type { ServerResponse } from 'node:http'
import type { LiveEvent } from './schemas/live.ts'

/** A reader that is this far behind is cut off; its browser connects again and fetches afresh. */
const MAX_BACKLOG_BYTES = 1 << 20
const HEARTBEAT_MS = 15_000

/** Server-sent events to every open page. */
export interface LiveFeed {
  send(event: LiveEvent): void
  /** Turns a response into an event stream until it closes. */
  attach(response: ServerResponse): void
  readers(): number
  close(): void
}

export function createLiveFeed(): LiveFeed {
  const readers = new Set<ServerResponse>()
  let number = 0

  function write(response: ServerResponse, text: string): void {
    if (response.writableLength > MAX_BACKLOG_BYTES) response.destroy()
    else response.write(text)
  }
  // A line now and then keeps proxies from closing the stream and shows a dead one.
  const heartbeat = setInterval(() => {
    for (const reader of readers) write(reader, ': still here\n\n')
  }, HEARTBEAT_MS)
  heartbeat.unref()

  return {
    send({ event, data }) {
      number += 1
      const text = `id: ${number}\nevent: ${event}\ndata: ${JSON.stringify(data)}\n\n`
      for (const reader of readers) write(reader, text)
    },
    attach(response) {
      response.writeHead(200, {
        'content-type': 'text/event-stream; charset=utf-8',
        'cache-control': 'no-store',
        connection: 'keep-alive',
        'x-accel-buffering': 'no',
      })
      response.write('retry: 1000\n: hello\n\n')
      readers.add(response)
      response.on('close', () => readers.delete(response))
    },
    readers: () => readers.size,
    close() {
      clearInterval(heartbeat)
      for (const reader of readers) reader.end()
      readers.clear()
    },
  }
}
