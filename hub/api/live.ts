import { randomBytes } from 'node:crypto'
import type { ServerResponse } from 'node:http'
import type { LiveEvent } from './schemas/live.ts'

/** A reader that is this far behind is cut off; its browser connects again and goes on from where it was. */
const MAX_BACKLOG_BYTES = 1 << 20
/** Pages take a stream for dead that says nothing for twice as long and a little more. */
const HEARTBEAT_MS = 10_000
/** What a page that was away can still be told one by one. */
const MOST_KEPT = 2000
const MOST_KEPT_BYTES = 4 << 20

/** Server-sent events to every open page. */
export interface LiveFeed {
  send(event: LiveEvent): void
  /**
   * Turns a response into an event stream until it closes. With the id of the event that its reader heard last it
   * begins with everything since, each once; with an id that is too old, or of another run of the hub, with `reset`.
   */
  attach(response: ServerResponse, lastHeard?: string | null): void
  /** Id of the newest event: who reads what there is now goes on listening from here. */
  here(): string
  readers(): number
  close(): void
}

interface Kept {
  readonly number: number
  readonly text: string
}

export interface LiveFeedOptions {
  /** @default 10 s */
  readonly heartbeatMs?: number
  /** How many events a reader can have missed and still be told one by one. @default 2000 */
  readonly mostKept?: number
}

export function createLiveFeed(options: LiveFeedOptions = {}): LiveFeed {
  const { heartbeatMs = HEARTBEAT_MS, mostKept = MOST_KEPT } = options
  const readers = new Set<ServerResponse>()
  // Numbers begin anew with every run: ids of another one must not pass for ours.
  const run = randomBytes(6).toString('hex')
  const kept: Kept[] = []
  let keptBytes = 0
  let number = 0

  function write(response: ServerResponse, text: string): void {
    if (response.writableLength > MAX_BACKLOG_BYTES) response.destroy()
    else response.write(text)
  }
  function keep(text: string): void {
    kept.push({ number, text })
    keptBytes += text.length
    while (kept.length > mostKept || (keptBytes > MOST_KEPT_BYTES && kept.length > 1)) {
      keptBytes -= kept.shift()?.text.length ?? 0
    }
  }
  /** What came after an event; null when that cannot be told. */
  function since(lastHeard: string): readonly Kept[] | null {
    const [ofRun, text = ''] = lastHeard.split('-', 2)
    const heard = /^\d{1,15}$/.test(text) ? Number(text) : Number.NaN
    const oldest = kept[0]?.number ?? number + 1
    if (ofRun !== run || !(heard <= number) || heard < oldest - 1) return null
    return kept.slice(heard - oldest + 1)
  }
  // A page sees these too, and so notices a stream that is dead; proxies keep the stream open for them.
  const heartbeat = setInterval(() => {
    for (const reader of readers) write(reader, 'event: beat\ndata: {}\n\n')
  }, heartbeatMs)
  heartbeat.unref()

  return {
    send({ event, data }) {
      number += 1
      const text = `id: ${run}-${number}\nevent: ${event}\ndata: ${JSON.stringify(data)}\n\n`
      keep(text)
      for (const reader of readers) write(reader, text)
    },
    attach(response, lastHeard = null) {
      response.writeHead(200, {
        'content-type': 'text/event-stream; charset=utf-8',
        'cache-control': 'no-store',
        connection: 'keep-alive',
        'x-accel-buffering': 'no',
      })
      const missed = lastHeard === null ? [] : since(lastHeard)
      // The id lets a reader that has heard nothing yet go on from here.
      const here = `id: ${run}-${number}\n`
      if (missed === null) response.write(`retry: 1000\n${here}event: reset\ndata: {}\n\n`)
      else if (missed.length === 0) response.write(`retry: 1000\n${here}event: beat\ndata: {}\n\n`)
      else response.write(`retry: 1000\n\n${missed.map(({ text }) => text).join('')}`)
      readers.add(response)
      response.on('close', () => readers.delete(response))
    },
    here: () => `${run}-${number}`,
    readers: () => readers.size,
    close() {
      clearInterval(heartbeat)
      for (const reader of readers) reader.end()
      readers.clear()
    },
  }
}
