import { connect } from 'node:net'
import type { AddressInfo } from 'node:net'
import fc from 'fast-check'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { apiHost, type ApiHost } from '../support/api-host.ts'
import { SMALL_GARDEN_NOW } from '../support/small-garden.ts'
import { HOSTILE_TEXTS } from './hostile.ts'
import { longest, runs } from './size.ts'

/*
 * Bytes at the door of HTTP itself: requests by the letter, the same with bytes changed, smuggled lengths, live streams
 * asked for with ids of no sense. Whatever comes, an answer is HTTP, none is a fault of the hub, and it goes on.
 */

let host: ApiHost
let port: number
beforeAll(async () => {
  host = await apiHost(SMALL_GARDEN_NOW)
  await host.app.listen({ port: 0, host: '127.0.0.1' })
  port = (host.app.server.address() as AddressInfo).port
})
afterAll(async () => {
  await host[Symbol.asyncDispose]()
})

const text = fc.constantFrom(...HOSTILE_TEXTS.filter((one) => one.length < 4000))
const header = fc.oneof(
  fc.constantFrom(
    'Host: 127.0.0.1',
    'Host: evil.example',
    'Content-Length: 5',
    'Content-Length: 99999999999999999999',
    'Content-Length: -1',
    'Content-Length: 5, 6',
    'Transfer-Encoding: chunked',
    'Transfer-Encoding: chunked, identity',
    'Content-Type: application/json',
    'Expect: 100-continue',
    'Upgrade: websocket',
    'Connection: upgrade',
    'Authorization: Bearer x',
    'Cookie: loamline-session=',
    'X-Forwarded-For: 1.2.3.4, , ::1',
    'Forwarded: for="',
    'Origin: null',
    'Last-Event-ID: 0-99999999999999999999',
    'Range: bytes=0-,1-,2-',
    'If-None-Match: "',
    'Accept-Encoding: gzip;q=nan',
  ),
  fc
    .tuple(fc.constantFrom('Host', 'Cookie', 'Origin', 'Last-Event-ID', 'Idempotency-Key'), text)
    .map((parts) => parts.join(': ')),
)
const line = fc
  .tuple(
    fc.constantFrom(
      'GET',
      'GET',
      'GET',
      'POST',
      'PUT',
      'HEAD',
      'OPTIONS',
      'TRACE',
      'CONNECT',
      'PROPFIND',
      'get',
      '',
    ),
    fc.oneof(
      fc.constantFrom(
        '/api/health',
        '/api/beds',
        '/api/live?after=',
        '/api/live',
        '//',
        '/../../etc/passwd',
        '/%2e%2e/%2e%2e/etc/passwd',
        '/api/%',
        '/api/beds/%00',
        '*',
        'http://evil.example/api/beds',
        '/sta/v1.1/Things?$filter=',
      ),
      text,
    ),
    fc.oneof(
      { weight: 5, arbitrary: fc.constant('HTTP/1.1') },
      { weight: 1, arbitrary: fc.constantFrom('HTTP/1.0', 'HTTP/2.0', 'HTTP/9.9', '') },
    ),
  )
  .map((parts) => parts.join(' '))
const request = fc
  .tuple(
    line,
    fc.constantFrom('Host: 127.0.0.1', 'Host: 127.0.0.1', 'Host: localhost', 'Via: x'),
    fc.array(header, { maxLength: 5 }),
    fc.constantFrom('', '{"a":1}', '5\r\nhello\r\n0\r\n\r\n', 'zz\r\n'),
  )
  .map(([first, name, headers, body]) =>
    Buffer.from([first, name, ...headers, '', body].join('\r\n')),
  )
const changed = fc
  .tuple(request, fc.nat(300), fc.uint8Array({ minLength: 1, maxLength: 8 }))
  .map(([bytes, at, by]) => Buffer.concat([bytes.subarray(0, at), by, bytes.subarray(at)]))
const bytes = fc.oneof(
  { weight: 3, arbitrary: request },
  { weight: 3, arbitrary: changed },
  { weight: 1, arbitrary: fc.tuple(request, request).map((two) => Buffer.concat(two)) },
  { weight: 1, arbitrary: fc.uint8Array({ maxLength: 500 }).map((raw) => Buffer.from(raw)) },
)

/** What comes back until the connection closes or nothing more comes. */
function answerTo(sent: Uint8Array): Promise<string> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1')
    let answer = ''
    const timer = setTimeout(() => socket.destroy(), 100)
    socket.on('data', (part: Buffer) => (answer += part.toString('latin1')))
    socket.on('error', () => undefined)
    socket.on('close', () => {
      clearTimeout(timer)
      resolve(answer)
    })
    // Not ended: who hangs up before the answer gets none.
    socket.on('connect', () => socket.write(sent))
  })
}

test(
  'whatever comes over the line, an answer is HTTP, never a fault, never a file of the machine',
  async () => {
    const { numRuns, seed } = runs(900)
    const all = fc.sample(bytes, { numRuns, seed })
    const wrong: string[] = []
    const statuses = new Map<string, number>()
    for (let i = 0; i < all.length; i += 12) {
      const part = all.slice(i, i + 12)
      const answers = await Promise.all(part.map(answerTo))
      for (const [k, answer] of answers.entries()) {
        const status = /^HTTP\/1\.1 (\d{3}) /.exec(answer)?.[1] ?? 'none'
        statuses.set(status, (statuses.get(status) ?? 0) + 1)
        const isWrong =
          (answer !== '' && status === 'none') ||
          (status.startsWith('5') && status !== '501' && status !== '505') ||
          /root:x:0|\n\s+at .*\.ts:\d+|node_modules/.test(answer)
        if (isWrong)
          wrong.push(`${JSON.stringify(part[k]!.toString('latin1'))}\n→ ${answer.slice(0, 400)}`)
      }
    }
    expect(wrong).toEqual([])
    expect([...statuses.keys()]).toEqual(expect.arrayContaining(['200', '400', '404', '421']))
    const health = await fetch(`http://127.0.0.1:${port}/api/health`)
    expect(health.status).toBe(200)
  },
  longest(60_000),
)
