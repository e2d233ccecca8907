import { expect, test } from 'vitest'
import type { RouteView } from '../../hub/api/schemas/message.ts'
import { newDraft, toDraft, toInput } from '../../dashboard/src/parts/notify/route-draft.ts'
import {
  messageWords,
  routeSentences,
  testWords,
  whereWords,
} from '../../dashboard/src/parts/notify/route-words.ts'

const ORIGIN = 'http://hub.example:8090'
const GARDEN = {
  name: 'Low field',
  zone: 'Europe/Lisbon',
  units: 'metric',
  language: 'en',
} as const

const view = (change: Partial<RouteView> = {}): RouteView => ({
  id: 1,
  createdAt: 0,
  pausedUntil: null,
  name: 'Kitchen',
  on: true,
  linkBase: ORIGIN,
  target: {
    way: 'e-mail',
    to: 'beds@garden.example',
    from: 'hub@garden.example',
    host: 'mail.garden.example',
    port: 587,
    security: 'starttls',
    anyCertificate: false,
    user: 'hub',
  },
  topic: null,
  hasSecret: true,
  kinds: ['dry'],
  beds: [3],
  leastPriority: 'medium',
  tells: 'ended',
  gatherMin: 5,
  digestAt: '07:00',
  atOnceFrom: 'high',
  quiet: { from: '22:00', to: '07:00', letThrough: null },
  repeatMin: 120,
  escalate: { afterMin: 60, to: 2 },
  mostPerHour: 6,
  ...change,
})

test.each([
  view(),
  view({ digestAt: null, atOnceFrom: 'low', quiet: null, repeatMin: null, escalate: null }),
  view({ kinds: null, beds: null, quiet: { from: '12:00', to: '14:00', letThrough: 'high' } }),
  view({ target: { way: 'webhook', url: 'https://hooks.example/a', privateAllowed: true } }),
  view({ target: { way: 'mqtt', retain: true }, topic: 'lm1/hub/messages/1' }),
])('a form that is opened and saved changes nothing, and sends no secret', (route) => {
  const checked = toInput(toDraft(route), ORIGIN)
  const { id: _id, createdAt: _at, pausedUntil: _p, topic: _t, hasSecret: _s, ...same } = route
  expect(checked).toEqual({ input: same })
})

test('what cannot be a number is said beside its field', () => {
  const draft = { ...newDraft('e-mail'), port: '5e7', gatherMin: '', mostPerHour: '-1', kinds: [] }
  const checked = toInput(draft, ORIGIN)
  expect('errors' in checked && checked.errors.map(({ path }) => path)).toEqual([
    'target.port',
    'kinds',
    'gatherMin',
    'mostPerHour',
  ])
})

test('people get mornings and quiet nights, programs everything at once', () => {
  expect(toInput(newDraft('e-mail'), ORIGIN)).toMatchObject({
    input: { digestAt: '07:00', quiet: { from: '22:00', to: '07:00', letThrough: 'high' } },
  })
  expect(toInput(newDraft('webhook'), ORIGIN)).toMatchObject({
    input: { digestAt: null, quiet: null, tells: 'all', gatherMin: 0 },
  })
})

test('a route as sentences', () => {
  const routes = [view(), view({ id: 2, name: 'Old phone' })]
  expect(whereWords(view())).toBe('E-mail to beds@garden.example, by mail.garden.example')
  expect(routeSentences(view(), routes, new Map([[3, 'Long bed']]))).toEqual([
    'Alarms of high urgency at once, the rest at 07:00.',
    'Only: Dry soil.',
    'Only of: Long bed.',
    'Only alarms of medium or high urgency.',
    'Quiet from 22:00 to 07:00; then everything as one message.',
    'Gathered: what happens in a bed within 5 minutes is one message.',
    'Told again after 2 hours without an acknowledgement.',
    "After one hour without an acknowledgement also by 'Old phone'.",
    'At most 6 messages an hour; more become one.',
  ])
})

test('how a message got on, and what a test showed', () => {
  const message = {
    ...{ id: 1, uid: 'u', routeId: 1, title: 't', madeAt: 0, held: null, alarms: [] },
    ...{ lastTryAt: null, nextTryAt: null, sentAt: null, answer: null, maybeSent: false },
    ...({ state: 'waiting', tries: 0 } as const),
  }
  expect(messageWords(message, GARDEN)).toBe('waiting')
  const nextTryAt = Date.parse('2026-05-04T08:00:00Z')
  const failed = { ...message, state: 'failed', tries: 1, nextTryAt, answer: 'no route' } as const
  expect(messageWords(failed, GARDEN)).toBe(
    'not sent: no route. Tried once, next try 4 May 2026, 09:00.',
  )
  expect(messageWords({ ...failed, nextTryAt: null }, GARDEN)).toBe(
    'not sent: no route. The next try is due.',
  )
  expect(messageWords({ ...message, state: 'given-up', answer: '554 no' }, GARDEN)).toBe(
    'given up: 554 no',
  )
  expect(testWords({ what: 'sent', answer: '250 ok' })).toMatch(/took it and answered: 250 ok/)
  expect(testWords({ what: 'unsure', answer: 'cut' })).toMatch(/may have arrived/)
  expect(testWords({ what: 'refused', answer: 'away' })).toBe('It did not arrive: away')
})
