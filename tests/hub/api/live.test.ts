import { once } from 'node:events'
import { createServer, request } from 'node:http'
import { expect, test } from 'vitest'
import { createLiveFeed, type LiveFeed, type LiveFeedOptions } from '#hub/api/live.ts'
import { cuttingProxy } from '../../support/cutting-proxy.ts'
import { eventStream, type StreamEvent } from '../../support/event-stream.ts'
import { seededRandom } from '../../support/random.ts'
import { until } from '../../support/until.ts'

async function serve(options: LiveFeedOptions = {}) {
  const feed = createLiveFeed(options)
  const server = createServer((asked, response) => {
    const heard = asked.headers['last-event-id']
    feed.attach(response, typeof heard === 'string' ? heard : null)
  })
  server.listen(0, '127.0.0.1')
  await once(server, 'listening')
  const address = server.address()
  if (address === null || typeof address === 'string') throw new Error('expected a port')
  return {
    feed,
    port: address.port,
    async [Symbol.asyncDispose]() {
      feed.close()
      server.closeAllConnections()
      server.close()
      await once(server, 'close')
    },
  }
}

/** Reads until it is cut off or told to stop; resolves to the id heard last. */
async function read(
  port: number,
  lastHeard: string | null,
  onEvent: (event: StreamEvent) => 'stop' | undefined,
): Promise<string | null> {
  let heard = lastHeard
  const asked = request({
    port,
    host: '127.0.0.1',
    agent: false,
    headers: lastHeard === null ? {} : { 'last-event-id': lastHeard },
  })
  asked.end()
  await new Promise<void>((resolve) => {
    asked.on('error', () => resolve())
    asked.on('response', (response) => {
      const take = eventStream((event) => {
        if (event.id !== '') heard = event.id
        if (onEvent(event) === 'stop') asked.destroy()
      })
      response.setEncoding('utf8')
      response.on('data', take)
      response.on('error', () => resolve())
      response.on('close', () => resolve())
    })
  })
  return heard
}

const tell = (feed: LiveFeed, bedId: number): void =>
  feed.send({ event: 'journal', data: { bedId } })
const bedOf = (event: StreamEvent): number => (JSON.parse(event.data) as { bedId: number }).bedId

test('no event is missed and none comes twice while the connection is cut again and again', async () => {
  const random = seededRandom(11)
  await using hub = await serve()
  await using proxy = await cuttingProxy(hub.port)
  // The head of an answer has about 200 bytes, an event about 70: cut in heads, in events and between them.
  proxy.cutAfter(() => 60 + Math.floor(random() * 900))
  const heard: number[] = []
  const last = 900
  let sent = 0
  let lastHeard = await read(hub.port, null, () => 'stop')
  const speak = setInterval(() => {
    for (let i = 0; i < 12 && sent < last; i++) tell(hub.feed, ++sent)
  }, 2)
  await until('the reader is there', async () => {
    lastHeard = await read(proxy.port, lastHeard, (event) => {
      if (event.event === 'journal') heard.push(bedOf(event))
      expect(event.event).not.toBe('reset')
      return heard.at(-1) === last ? 'stop' : undefined
    })
    return heard.at(-1) === last
  })
  clearInterval(speak)
  expect(proxy.cuts()).toBeGreaterThan(50)
  expect(heard).toEqual(Array.from({ length: last }, (_, i) => i + 1))
})

test('a reader that has heard nothing yet is told where it stands, and goes on from there', async () => {
  await using hub = await serve()
  tell(hub.feed, 1)
  const id = await read(hub.port, null, ({ event }) => {
    expect(event).toBe('beat')
    return 'stop'
  })
  tell(hub.feed, 2)
  const next: number[] = []
  await read(hub.port, id, (event) => {
    next.push(bedOf(event))
    return 'stop'
  })
  expect(next).toEqual([2])
})

test.each([
  ['too old', (run: string) => `${run}-1`],
  ['of another run of the hub', () => 'ffffffffffff-5'],
  ['of the future', (run: string) => `${run}-999`],
  ['no id at all', () => 'once upon a time'],
])('a reader whose last event is %s has to fetch afresh', async (_, lastHeard) => {
  await using hub = await serve({ mostKept: 3 })
  const id = await read(hub.port, null, () => 'stop')
  for (let i = 1; i <= 8; i++) tell(hub.feed, i)
  const [run = ''] = (id ?? '').split('-')
  const events: StreamEvent[] = []
  await read(hub.port, lastHeard(run), (event) => {
    events.push(event)
    return 'stop'
  })
  expect(events).toEqual([{ event: 'reset', data: '{}', id: `${run}-8` }])
})

test('the last event that is still kept is enough to go on from', async () => {
  await using hub = await serve({ mostKept: 3 })
  const id = await read(hub.port, null, () => 'stop')
  const [run = ''] = (id ?? '').split('-')
  for (let i = 1; i <= 8; i++) tell(hub.feed, i)
  const beds: number[] = []
  await read(hub.port, `${run}-5`, (event) => {
    beds.push(bedOf(event))
    return beds.length === 3 ? 'stop' : undefined
  })
  expect(beds).toEqual([6, 7, 8])
})

test('the hub says that it is there when nothing happens', async () => {
  await using hub = await serve({ heartbeatMs: 5 })
  const events: string[] = []
  await read(hub.port, null, ({ event }) => {
    events.push(event)
    return events.length === 4 ? 'stop' : undefined
  })
  expect(events).toEqual(['beat', 'beat', 'beat', 'beat'])
})
