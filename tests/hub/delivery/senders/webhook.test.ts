import { createHmac } from 'node:crypto'
import { expect, test } from 'vitest'
import { publicLookup } from '#hub/delivery/senders/public-address.ts'
import type { Outgoing } from '#hub/delivery/senders/sender.ts'
import { createWebhookSender } from '#hub/delivery/senders/webhook.ts'
import { alarmLetter, testLetter } from '#hub/delivery/words/letter.ts'
import type { MessageItem, Route } from '#hub/model/route.ts'
import { anAlarm, aRoute } from '../../../support/alarm-fixture.ts'
import { cloudEventFaults } from '../../../support/cloud-events-schema.ts'
import { startReceiver } from '../../../support/webhook-receiver.ts'

const MADE_AT = Date.parse('2026-05-04T08:00:00Z')
const NOW = MADE_AT + 61_500
const HUB_ID = '7a5d1c2e-4b6f-4e0a-9c8d-0123456789ab'
const UID = '0b9c7a52-2f0e-4c1d-8f43-1234567890ab'
const KEY = 'a key of some length'
const CONTEXT = { garden: 'Low field', zone: 'Europe/Lisbon', linkBase: 'http://hub.example' }

const hook = (url: string, privateAllowed = true): Route =>
  aRoute({ target: { way: 'webhook', url, privateAllowed } })
const send = createWebhookSender({ clock: () => NOW, hubId: HUB_ID, timeoutMs: 700 })

function outgoing(change: Partial<Outgoing> = {}): Outgoing {
  const items: MessageItem[] = [
    { alarm: anAlarm(), bed: 'Long bed', reasons: ['raised'], since: MADE_AT },
  ]
  const letter = alarmLetter({ items, held: null }, CONTEXT)
  return {
    ...{ uid: UID, madeAt: MADE_AT, held: null, items, test: false, maybeSent: false },
    ...{ letter, note: null, ...change },
  }
}

test('an event of CloudEvents 1.0 in structured mode, signed together with its time', async () => {
  await using receiver = await startReceiver()
  expect(await send(hook(receiver.url), KEY, outgoing())).toEqual({
    what: 'sent',
    answer: 'HTTP 200 said 200',
  })
  const [{ headers, body, event }] = receiver.taken as [(typeof receiver.taken)[number]]
  expect(headers['content-type']).toBe('application/cloudevents+json; charset=utf-8')
  expect(cloudEventFaults(event)).toEqual([])
  expect(event).toMatchObject({
    id: UID,
    source: `urn:uuid:${HUB_ID}`,
    type: 'loamline.alarms.v1',
    subject: 'bed-3',
    time: '2026-05-04T08:00:00.000Z',
    data: {
      test: false,
      possibleRepeat: false,
      alarms: [{ id: 7, kind: 'harmful-shift', state: 'unacknowledged', bed: 'Long bed' }],
    },
  })
  expect(headers['loamline-timestamp']).toBe(String(Math.floor(NOW / 1000)))
  const mine = createHmac('sha256', KEY).update(`${String(headers['loamline-timestamp'])}.${body}`)
  expect(headers['loamline-signature']).toBe(`sha256=${mine.digest('hex')}`)
})

test('HMAC-SHA256 as published: RFC 4231, test case 2', () => {
  // The key and data of the RFC; guards against a digest that only agrees with itself.
  expect(createHmac('sha256', 'Jefe').update('what do ya want for nothing?').digest('hex')).toBe(
    '5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843',
  )
})

test('without a key nothing is signed; a possible repeat and a test say so within the standard', async () => {
  await using receiver = await startReceiver()
  await send(hook(receiver.url), null, outgoing({ maybeSent: true }))
  await send(
    hook(receiver.url),
    null,
    outgoing({ test: true, items: [], letter: testLetter('Kitchen', CONTEXT) }),
  )
  const [repeat, tried] = receiver.taken
  expect(repeat!.headers['loamline-signature']).toBeUndefined()
  expect(repeat!.event).toMatchObject({ id: UID, possiblerepeat: true })
  expect(tried!.event).toMatchObject({ type: 'loamline.test.v1', data: { test: true, alarms: [] } })
  for (const { event } of receiver.taken) expect(cloudEventFaults(event)).toEqual([])
})

test('the schema notices what is no such event', () => {
  const good = { specversion: '1.0', id: '1', source: 'urn:x:y', type: 't' }
  expect(cloudEventFaults(good)).toEqual([])
  const bad = [
    { ...good, id: '' },
    { ...good, specversion: '0.3' },
    { ...good, time: 'yesterday' },
    { ...good, possibleRepeat: true },
    { ...good, extension: { nested: true } },
    { specversion: '1.0', id: '1', type: 't' },
  ]
  for (const event of bad) expect(cloudEventFaults(event)).not.toEqual([])
})

test.each([
  [204, 'sent'],
  [302, 'refused'],
  [307, 'refused'],
  [401, 'refused'],
  [404, 'refused'],
  [422, 'never'],
  [429, 'refused'],
  [500, 'refused'],
  ['hang', 'unsure'],
  ['cut', 'unsure'],
] as const)('a receiver that answers %s: %s', async (manner, what) => {
  await using receiver = await startReceiver()
  receiver.manner = manner
  const outcome = await send(hook(receiver.url), KEY, outgoing())
  expect(outcome.what).toBe(what)
  // Redirects are not followed: one request, whatever it answers.
  expect(receiver.seen).toHaveLength(1)
})

test('a receiver that is away took nothing', async () => {
  await using receiver = await startReceiver()
  await receiver.stop()
  const outcome = await send(hook(receiver.url), KEY, outgoing())
  expect(outcome.what).toBe('refused')
  expect(outcome.answer).toMatch(/ECONNREFUSED/)
})

test('private addresses are refused before anything is sent, written out or behind a name', async () => {
  await using receiver = await startReceiver()
  const refused = {
    what: 'refused',
    answer: expect.stringMatching(/private network or of this machine; the route does not allow/),
  }
  const written = hook(receiver.url, false)
  expect(await send(written, KEY, outgoing())).toMatchObject(refused)
  const named = createWebhookSender({
    clock: () => NOW,
    hubId: HUB_ID,
    lookup: publicLookup((_host, done) => done(null, [{ address: '127.0.0.1', family: 4 }])),
  })
  const behind = hook(`http://hooks.example:${receiver.port}/`, false)
  expect(await named(behind, KEY, outgoing())).toMatchObject(refused)
  expect(receiver.seen).toEqual([])
})
