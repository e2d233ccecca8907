import { expect, test } from 'vitest'
import type { MessageView, RouteInput, RouteView } from '#hub/api/schemas/message.ts'
import { anAlarm } from '../../support/alarm-fixture.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'

const NOW = Date.parse('2026-05-04T11:00:00Z')
const PASSWORD = 'compost-heap-at-the-back'
/** Keys of no browser, as long as theirs. */
const P256DH = Buffer.alloc(65, 4).toString('base64url')
const AUTH = Buffer.alloc(16, 7).toString('base64url')
const KEY = 'a key that nobody should ever see'

const input = (change: Partial<RouteInput> = {}): RouteInput => ({
  name: 'Kitchen',
  on: true,
  linkBase: 'http://hub.example:8090',
  target: { way: 'webhook', url: 'https://hooks.example/garden', privateAllowed: false, key: KEY },
  kinds: null,
  beds: null,
  leastPriority: 'low',
  tells: 'ended',
  gatherMin: 5,
  digestAt: '07:00',
  atOnceFrom: 'high',
  quiet: { from: '22:00', to: '07:00', letThrough: 'high' },
  repeatMin: null,
  escalate: null,
  mostPerHour: 6,
  ...change,
})
type MailInput = Extract<RouteInput['target'], { way: 'e-mail' }>
const mail = (change: Partial<MailInput> = {}): RouteInput =>
  input({
    target: {
      way: 'e-mail',
      to: 'beds@garden.example',
      from: 'hub@garden.example',
      host: 'mail.garden.example',
      port: 587,
      security: 'starttls',
      anyCertificate: false,
      user: 'hub',
      password: PASSWORD,
      ...change,
    },
  })

async function add(host: ApiHost, body: unknown): Promise<RouteView> {
  const answer = await host.call('POST', '/api/message-routes', body)
  expect(answer.status, JSON.stringify(answer.body)).toBe(201)
  return answer.body as RouteView
}
/** Paths of the values that were refused. */
const refusedAt = ({ body }: { body: unknown }): string[] =>
  ((body as { errors?: { path: string }[] }).errors ?? []).map(({ path }) =>
    path.replaceAll('/', '.').replace(/^\./, ''),
  )

test('routes are made, changed, paused and removed', async () => {
  await using host = await apiHost(NOW)
  const made = await add(host, input())
  expect(made).toMatchObject({ id: 1, name: 'Kitchen', hasSecret: true, pausedUntil: null })
  expect(host.events.at(-1)).toEqual({ event: 'messages', data: {} })
  const second = await add(host, { ...input({ target: { way: 'mqtt', retain: true } }) })
  expect(second).toMatchObject({ topic: 'lm1/hub/messages/2', hasSecret: false })
  const changed = await host.call('PUT', '/api/message-routes/1', {
    ...input({ name: 'Shed', escalate: { afterMin: 60, to: 2 } }),
  })
  expect(changed.body).toMatchObject({ name: 'Shed', escalate: { afterMin: 60, to: 2 } })
  const until = NOW + 3_600_000
  const paused = await host.call('POST', '/api/message-routes/1/pause', { until })
  expect(paused.body).toMatchObject({ pausedUntil: until })
  expect((await host.call('POST', '/api/message-routes/1/pause', { until: NOW })).status).toBe(400)
  expect((await host.call('DELETE', '/api/message-routes/2')).status).toBe(204)
  const { body } = await host.call('GET', '/api/message-routes')
  // Nothing to escalate to any more.
  expect(body).toMatchObject([{ id: 1, escalate: null }])
  expect((await host.call('PUT', '/api/message-routes/9', input())).status).toBe(404)
  expect((await host.call('DELETE', '/api/message-routes/9')).status).toBe(404)
})

test('passwords, keys and subscriptions go in and come out nowhere', async () => {
  await using host = await apiHost(NOW)
  const subscription = {
    endpoint: 'https://push.example/send/very-secret-path',
    keys: { p256dh: P256DH, auth: AUTH },
  }
  const answers = [
    await add(host, input()),
    await add(host, mail()),
    await add(host, input({ target: { way: 'push', subscription } })),
  ]
  expect(answers.map(({ hasSecret }) => hasSecret)).toEqual([true, true, true])
  expect(answers[2]!.target).toEqual({ way: 'push', service: 'push.example' })
  const spoken = [
    ...answers,
    (await host.call('PUT', '/api/message-routes/2', mail())).body,
    (await host.call('PUT', '/api/message-routes/2', mail({ port: 0 }))).body,
    (await host.call('GET', '/api/message-routes')).body,
    (await host.call('GET', '/api/messages')).body,
    ...host.events,
  ]
  const text = JSON.stringify(spoken)
  for (const secret of [PASSWORD, KEY, 'very-secret-path', P256DH, AUTH]) {
    expect(text).not.toContain(secret)
  }
  for (const table of ['beds', 'probes', 'alarms', 'journal']) {
    const { payload } = await host.app.inject(`/api/export/records/${table}`)
    expect(payload).not.toContain(PASSWORD)
  }
  expect(await host.deps.garden.routeSecret(1)).toBe(KEY)
  expect(await host.deps.garden.routeSecret(2)).toBe(PASSWORD)
})

test('a secret that is left out stays, but never follows to another server', async () => {
  await using host = await apiHost(NOW)
  const { id } = await add(host, mail())
  const put = async (change: Partial<MailInput>) => {
    const body = mail(change)
    if (change.password === undefined) delete (body.target as Partial<MailInput>).password
    return host.call('PUT', `/api/message-routes/${id}`, body)
  }
  expect((await put({ to: 'shed@garden.example' })).status).toBe(200)
  expect(await host.deps.garden.routeSecret(id)).toBe(PASSWORD)
  expect(refusedAt(await put({ host: 'mail.elsewhere.example' }))).toEqual(['target.password'])
  expect(refusedAt(await put({ port: 465 }))).toEqual(['target.password'])
  expect((await put({ host: 'mail.elsewhere.example', password: 'another' })).status).toBe(200)
  expect(await host.deps.garden.routeSecret(id)).toBe('another')
  expect((await put({ user: null })).status).toBe(200)
  expect(await host.deps.garden.routeSecret(id)).toBeNull()
  const hook = await add(host, input())
  const renamed = input({
    name: 'Another name',
    target: { way: 'webhook', url: 'https://hooks.example/two', privateAllowed: false },
  })
  await host.call('PUT', `/api/message-routes/${hook.id}`, renamed)
  expect(await host.deps.garden.routeSecret(hook.id)).toBe(KEY)
  // Another server: what it gets must not be signed with the key of the one before.
  const moved = input({
    target: { way: 'webhook', url: 'https://hooks.elsewhere.example/', privateAllowed: false },
  })
  if (moved.target.way === 'webhook') delete moved.target.key
  await host.call('PUT', `/api/message-routes/${hook.id}`, moved)
  expect(await host.deps.garden.routeSecret(hook.id)).toBeNull()
  await host.call('PUT', `/api/message-routes/${hook.id}`, input())
  expect(await host.deps.garden.routeSecret(hook.id)).toBe(KEY)
  // Another way: the key was for the one before.
  await host.call('PUT', `/api/message-routes/${hook.id}`, {
    ...input({ target: { way: 'mqtt', retain: false } }),
  })
  expect(await host.deps.garden.routeSecret(hook.id)).toBeNull()
})

const BAD: readonly (readonly [path: string, body: RouteInput])[] = [
  ['target.to', mail({ to: 'a@b.example\r\nBcc: c@d.example' })],
  ['target.to', mail({ to: 'a@b.example, c@d.example' })],
  ['target.to', mail({ to: 'Beds <a@b.example>' })],
  ['target.from', mail({ from: 'nobody' })],
  ['target.host', mail({ host: 'mail.example/x' })],
  ['target.port', mail({ port: 70_000 })],
  ['target.security', mail({ security: 'none' })],
  ['target.password', mail({ password: 'two\nlines' })],
  [
    'target.url',
    input({ target: { way: 'webhook', url: 'ftp://x.example', privateAllowed: true } }),
  ],
  [
    'target.url',
    input({ target: { way: 'webhook', url: 'https://u:p@x.example/', privateAllowed: true } }),
  ],
  [
    'target.key',
    input({
      target: { way: 'webhook', url: 'https://x.example', privateAllowed: true, key: 'short' },
    }),
  ],
  ['target.subscription', input({ target: { way: 'push' } })],
  [
    'target.subscription.keys.auth',
    input({
      target: {
        way: 'push',
        subscription: {
          endpoint: 'https://push.example/x',
          keys: { p256dh: P256DH, auth: 'short' },
        },
      },
    }),
  ],
  [
    'target.subscription.endpoint',
    input({
      target: {
        way: 'push',
        subscription: { endpoint: 'http://push.example/x', keys: { p256dh: P256DH, auth: AUTH } },
      },
    }),
  ],
  ['quiet.to', input({ quiet: { from: '22:00', to: '22:00', letThrough: null } })],
  ['quiet.from', input({ quiet: { from: '24:00', to: '07:00', letThrough: null } })],
  ['digestAt', input({ digestAt: '7:00' })],
  ['linkBase', input({ linkBase: 'http://hub.example/path' })],
  ['linkBase', input({ linkBase: 'javascript:alert(1)' })],
  ['escalate.to', input({ escalate: { afterMin: 60, to: 77 } })],
  ['beds', input({ beds: [99] })],
  ['mostPerHour', input({ mostPerHour: 0 })],
]
test('a form is refused at the value that cannot be used', async () => {
  await using host = await apiHost(NOW)
  for (const [path, body] of BAD) {
    const answer = await host.call('POST', '/api/message-routes', body)
    expect(answer.status, path).toBe(400)
    expect(refusedAt(answer)).toContain(path)
  }
  expect((await host.call('GET', '/api/message-routes')).body).toEqual([])
})

test('a password may go to this machine in the clear, nowhere else', async () => {
  await using host = await apiHost(NOW)
  await add(host, mail({ security: 'none', host: '127.0.0.1' }))
})

test('messages are told with what they are about and how they got on', async () => {
  await using host = await apiHost(NOW)
  const { garden } = host.deps
  const { id: routeId } = await add(host, input())
  const state = (await garden.routeState(routeId))!
  const item = { alarm: anAlarm(), bed: 'Long bed', reasons: ['raised'], since: NOW } as const
  const uid = '0b9c7a52-2f0e-4c1d-8f43-1234567890ab'
  await garden.saveRouteSteps([
    { routeId, state, messages: [{ uid, madeAt: NOW, held: null, items: [item] }] },
  ])
  const { body } = await host.call('GET', '/api/messages')
  expect(body as MessageView[]).toEqual([
    {
      id: 1,
      uid,
      routeId,
      title: 'Long bed: Harmful shift',
      madeAt: NOW,
      held: null,
      alarms: [{ id: 7, bedId: 3, bed: 'Long bed' }],
      state: 'waiting',
      tries: 0,
      lastTryAt: null,
      nextTryAt: null,
      sentAt: null,
      answer: null,
      maybeSent: false,
    },
  ])
  expect((await host.call('GET', '/api/messages?route=9')).body).toEqual([])
})

test('the feed has an entry an episode; its `updated` moves with its state alone', async () => {
  await using host = await apiHost(NOW)
  const { garden } = host.deps
  const step = (
    alarm: ReturnType<typeof anAlarm>,
    at: number,
    what: 'raised' | 'changed' | 'returned',
  ) => garden.saveAlarms([{ alarm, at, what, by: null, note: '' }])
  const sentence = 'Rose <b>fast</b> & far.'
  const [alarm] = await step(
    anAlarm({ id: 0, bedId: null, raisedAt: NOW, sentence }),
    NOW,
    'raised',
  )
  const feed = async (): Promise<string> => {
    const answer = await host.app.inject('/api/alarms.atom')
    expect(answer.headers['content-type']).toBe('application/atom+xml; charset=utf-8')
    return answer.payload
  }
  const entryOf = (xml: string) => {
    const entry = /<entry>.*<\/entry>/s.exec(xml)?.[0] ?? ''
    const member = (name: string) =>
      new RegExp(`<${name}[^>]*>(?:<!\\[CDATA\\[)?(.*?)(?:\\]\\]>)?</${name}>`, 's').exec(
        entry,
      )?.[1]
    return { id: member('id'), updated: member('updated'), published: member('published') }
  }
  // A reader takes it for HTML: a sentence stays one, whatever signs are in it.
  expect(await feed()).toContain('Rose &lt;b&gt;fast&lt;/b&gt; &amp; far.')
  const first = entryOf(await feed())
  expect(first.id).toMatch(/^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-5[0-9a-f]{3}-[89ab][0-9a-f]{3}-/)
  expect(first.updated).toBe('2026-05-04T11:00:00.000Z')
  await step({ ...alarm!, sentence: 'Other words.' }, NOW + 60_000, 'changed')
  expect(entryOf(await feed())).toEqual(first)
  const returned = { ...alarm!, state: 'returned', returnedAt: NOW + 120_000 } as const
  await step(returned, NOW + 120_000, 'returned')
  expect(entryOf(await feed())).toEqual({ ...first, updated: '2026-05-04T11:02:00.000Z' })
  // Shelved: out of sight here too.
  await step({ ...returned, shelvedUntil: NOW + 999_999 }, NOW + 130_000, 'changed')
  expect(await feed()).not.toContain('<entry>')
})
