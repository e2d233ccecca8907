import {
  createDecipheriv,
  createECDH,
  createPublicKey,
  hkdfSync,
  randomBytes,
  verify,
  type ECDH,
} from 'node:crypto'
import { once } from 'node:events'
import type { IncomingHttpHeaders } from 'node:http'
import { createServer } from 'node:https'
import type { AddressInfo } from 'node:net'
import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest'
import { pushKeys } from '#hub/delivery/push-keys.ts'
import { createPushSender, pushPayload } from '#hub/delivery/senders/push.ts'
import type { Outgoing } from '#hub/delivery/senders/sender.ts'
import { alarmLetter } from '#hub/delivery/words/letter.ts'
import type { MessageItem } from '#hub/model/route.ts'
import { anAlarm, aRoute } from '../../../support/alarm-fixture.ts'
import { TEST_CERTIFICATE, TEST_KEY } from '../../../support/test-certificate.ts'

interface Request {
  readonly headers: IncomingHttpHeaders
  readonly body: Buffer
}

let status = 201
const requests: Request[] = []
const service = createServer({ key: TEST_KEY, cert: TEST_CERTIFICATE }, (request, response) => {
  const parts: Buffer[] = []
  request.on('data', (part: Buffer) => parts.push(part))
  request.on('end', () => {
    requests.push({ headers: request.headers, body: Buffer.concat(parts) })
    response.statusCode = status
    response.end(status === 410 ? 'subscription is gone' : '')
  })
})
let endpoint = ''
beforeAll(async () => {
  service.listen(0, '127.0.0.1')
  await once(service, 'listening')
  endpoint = `https://127.0.0.1:${(service.address() as AddressInfo).port}/send/one-browser`
})
afterAll(() => void service.close())
beforeEach(() => {
  requests.length = 0
  status = 201
})

/** A browser: its own pair of keys and its secret. */
const browser = createECDH('prime256v1')
browser.generateKeys()
const auth = randomBytes(16)
const secret = (): string =>
  JSON.stringify({
    endpoint,
    keys: { p256dh: browser.getPublicKey('base64url'), auth: auth.toString('base64url') },
  })

/** What the browser reads: RFC 8291, 3.4, with the content encoding of RFC 8188, one record. */
function decrypt(body: Buffer, keys: ECDH): string {
  const salt = body.subarray(0, 16)
  const idLength = body[20]!
  const senderKey = body.subarray(21, 21 + idLength)
  const sealed = body.subarray(21 + idLength)
  const info = Buffer.concat([Buffer.from('WebPush: info\0'), keys.getPublicKey(), senderKey])
  const ikm = Buffer.from(hkdfSync('sha256', keys.computeSecret(senderKey), auth, info, 32))
  const derive = (label: string, bytes: number): Buffer =>
    Buffer.from(hkdfSync('sha256', ikm, salt, Buffer.from(`Content-Encoding: ${label}\0`), bytes))
  const open = createDecipheriv('aes-128-gcm', derive('aes128gcm', 16), derive('nonce', 12))
  open.setAuthTag(sealed.subarray(-16))
  const padded = Buffer.concat([open.update(sealed.subarray(0, -16)), open.final()])
  // The last record ends with 2 and padding of zeros (RFC 8188, 2).
  return padded.subarray(0, padded.lastIndexOf(2)).toString()
}

const kept = new Map<string, string>()
const keys = await pushKeys({
  own: async (name) => kept.get(name) ?? null,
  setOwn: async (name, value) => void kept.set(name, value),
})
const send = createPushSender({ keys, lookup: null, ca: TEST_CERTIFICATE, timeoutMs: 1500 })
const route = aRoute({ target: { way: 'push', service: 'push.example' } })

function outgoing(change: Partial<Outgoing> = {}, count = 1): Outgoing {
  const item: MessageItem = { alarm: anAlarm(), bed: 'Long bed', reasons: ['raised'], since: 0 }
  const items = Array.from({ length: count }, () => item)
  const letter = alarmLetter(
    { items, held: null },
    { garden: 'Low field', zone: 'Europe/Lisbon', linkBase: 'http://hub.example' },
  )
  return {
    ...{ uid: 'a-uid', madeAt: 0, held: null, items, test: false, maybeSent: false },
    ...{ letter, note: null, ...change },
  }
}

test('the browser, and nobody on the way, can read what is pushed', async () => {
  expect(await send(route, secret(), outgoing())).toMatchObject({ what: 'sent' })
  const [{ headers, body }] = requests as [Request]
  expect(headers['content-encoding']).toBe('aes128gcm')
  expect(headers['ttl']).toBe('86400')
  expect(headers['urgency']).toBe('high')
  expect(body.includes('Long bed')).toBe(false)
  expect(JSON.parse(decrypt(body, browser))).toEqual({
    title: 'Long bed: Harmful shift',
    body: 'Long bed: the pH rose by 1.4 ± 0.2.',
    tag: 'a-uid',
    path: '/bed/3',
  })
})

test('signed with the key that browsers are given (RFC 8292), which stays', async () => {
  await send(route, secret(), outgoing())
  const [, token = '', key = ''] = /^vapid t=([^,]+), ?k=(.+)$/.exec(
    requests[0]!.headers.authorization ?? '',
  )!
  expect(key).toBe(keys.publicKey)
  const point = Buffer.from(key, 'base64url')
  const publicKey = createPublicKey({
    format: 'jwk',
    key: {
      kty: 'EC',
      crv: 'P-256',
      x: point.subarray(1, 33).toString('base64url'),
      y: point.subarray(33).toString('base64url'),
    },
  })
  const [head = '', claims = '', signature = ''] = token.split('.')
  const signed = verify(
    'sha256',
    Buffer.from(`${head}.${claims}`),
    { key: publicKey, dsaEncoding: 'ieee-p1363' },
    Buffer.from(signature, 'base64url'),
  )
  expect(signed).toBe(true)
  expect(JSON.parse(Buffer.from(claims, 'base64url').toString())).toMatchObject({
    aud: new URL(endpoint).origin,
  })
  const again = await pushKeys({
    own: async (name) => kept.get(name) ?? null,
    setOwn: async () => {
      throw new Error('made anew')
    },
  })
  expect(again).toEqual(keys)
})

test.each([
  [404, 'never'],
  [410, 'never'],
  [413, 'never'],
  [429, 'refused'],
  [500, 'refused'],
] as const)('a push service that answers %i: %s', async (answer, what) => {
  status = answer
  expect((await send(route, secret(), outgoing())).what).toBe(what)
})

test('a service in the own network is refused', async () => {
  const guarded = createPushSender({ keys, ca: TEST_CERTIFICATE })
  expect(await guarded(route, secret(), outgoing())).toEqual({
    what: 'refused',
    answer: '127.0.0.1 is an address of a private network or of this machine',
  })
  expect(requests).toEqual([])
})

test('however much happened, a push stays small enough for every service', () => {
  const text = pushPayload(outgoing({ note: 'This may be a repeat.' }, 40))
  // 4096 octets less what encryption adds (RFC 8291, 4).
  expect(Buffer.byteLength(text)).toBeLessThan(3993)
})
