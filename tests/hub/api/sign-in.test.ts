import { once } from 'node:events'
import { request as httpRequest, type IncomingMessage } from 'node:http'
import type { AddressInfo } from 'node:net'
import type { InjectOptions } from 'fastify'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import type { MadeKey, PersonView, WhoView } from '#hub/api/schemas/account.ts'
import type { Problem } from '#hub/api/schemas/common.ts'
import type { Entry } from '#hub/api/schemas/journal.ts'
import { DAY } from '#hub/model/clock.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'
import { until } from '../../support/until.ts'

const NOW = 1_780_000_000_000
const PASSWORD = 'worms like rain'
const LONG = 'x1y2'.repeat(60)
const ELSEWHERE = '192.168.7.3'

let host: ApiHost
beforeEach(async () => {
  host = await apiHost(NOW)
})
afterEach(async () => {
  await host[Symbol.asyncDispose]()
})

interface Answer {
  readonly status: number
  readonly body: unknown
  readonly cookie: string | null
  readonly headers: Readonly<Record<string, unknown>>
}

async function send(
  method: 'GET' | 'POST' | 'PUT' | 'DELETE',
  url: string,
  payload?: object,
  more: Partial<InjectOptions> = {},
): Promise<Answer> {
  const answer = await host.app.inject({
    method,
    url,
    ...(payload === undefined ? {} : { payload }),
    ...more,
    headers: { 'sec-fetch-site': 'same-origin', ...more.headers },
  })
  const cookie = answer.headers['set-cookie']
  return {
    status: answer.statusCode,
    body: answer.body === '' ? null : answer.json(),
    cookie: typeof cookie === 'string' ? cookie : null,
    headers: answer.headers,
  }
}
const withCookie = (answer: Answer): Partial<InjectOptions> => ({
  headers: { cookie: answer.cookie!.split(';', 1)[0]! },
})
const makeOwner = (): Promise<Answer> =>
  send('POST', '/api/owner', { name: 'Ash', password: PASSWORD })
const who = async (more?: Partial<InjectOptions>): Promise<WhoView> =>
  (await send('GET', '/api/who', undefined, more)).body as WhoView

describe('without an owner', () => {
  test('the hub’s own machine does everything; another one looks, and changes nothing', async () => {
    expect(await who()).toMatchObject({
      state: 'open',
      scopes: ['read', 'enter', 'change', 'own'],
      name: null,
    })
    const there = { remoteAddress: ELSEWHERE }
    expect(await who(there)).toMatchObject({ state: 'no owner', scopes: ['read'] })
    expect((await send('GET', '/api/beds', undefined, there)).status).toBe(200)
    const refused = await send('PUT', '/api/planning-settings', {}, there)
    expect(refused).toMatchObject({ status: 403 })
    expect((refused.body as Problem).detail).toContain('make the owner first')
    expect((await send('GET', '/api/backup.tar', undefined, there)).status).toBe(403)
  })

  test('what a proxy on the same machine passes on did not come from it', async () => {
    for (const header of ['x-forwarded-for', 'forwarded', 'x-real-ip', 'via']) {
      expect(await who({ headers: { [header]: '127.0.0.1' } }), header).toMatchObject({
        state: 'no owner',
      })
    }
  })

  test('another machine makes the owner with the code in the log alone', async () => {
    const there = { remoteAddress: ELSEWHERE }
    const body = { name: 'Ash', password: PASSWORD }
    const code = host.deps.accounts.ownerCode()
    for (const wrong of [{}, { code: 'AAAA-BBBB-CCCC' }]) {
      const answer = await send('POST', '/api/owner', { ...body, ...wrong }, there)
      expect(answer).toMatchObject({ status: 400, body: { errors: [{ path: 'code' }] } })
    }
    const made = await send('POST', '/api/owner', { ...body, code }, there)
    expect(made.status).toBe(204)
    expect(await who({ ...there, ...withCookie(made) })).toMatchObject({ state: 'in', name: 'Ash' })
    // Once, from wherever.
    expect((await send('POST', '/api/owner', { ...body, name: 'Elm' })).status).toBe(409)
    expect(await who()).toMatchObject({ state: 'sign in', scopes: [] })
  })

  test('two owners asked for at once are one', async () => {
    const answers = await Promise.all(
      ['Ash', 'Elm', 'Oak'].map((name) => send('POST', '/api/owner', { name, password: PASSWORD })),
    )
    expect(answers.map(({ status }) => status).toSorted((a, b) => a - b)).toEqual([204, 409, 409])
    expect(host.deps.accounts.people()).toHaveLength(1)
  })

  test.each([
    ['short', 'at least 10'],
    ['Ash', 'at least 10'],
    ['aaaaaaaaaaaa', 'three different'],
    [LONG, 'at most 200'],
  ])('a password that is guessed first is refused: %#', async (password, words) => {
    const answer = await send('POST', '/api/owner', { name: 'Ash', password })
    expect(answer).toMatchObject({ status: 400, body: { errors: [{ path: 'password' }] } })
    expect((answer.body as Problem).errors![0]!.message).toContain(words)
    expect(host.deps.accounts.hasOwner()).toBe(false)
  })
})

describe('a session', () => {
  test('is a cookie that scripts cannot read, sites cannot send, and HTTPS alone carries where there is HTTPS', async () => {
    const plain = await makeOwner()
    expect(plain.cookie).toMatch(
      /^loamline-session=[\w-]{43}; Path=\/; Max-Age=15552000; HttpOnly; SameSite=Lax$/,
    )
    expect(plain.headers['cache-control']).toBe('no-store')
    const secure = await send(
      'POST',
      '/api/sign-in',
      { name: 'ash', password: PASSWORD },
      {
        headers: { 'x-forwarded-proto': 'https', 'x-forwarded-for': '10.0.0.9' },
      },
    )
    expect(secure.cookie).toMatch(
      /^__Host-loamline-session=[\w-]{43}; Path=\/; Max-Age=15552000; HttpOnly; SameSite=Lax; Secure$/,
    )
  })

  test('ends with signing out; wrong passwords and names are answered alike', async () => {
    const made = await makeOwner()
    const mine = withCookie(made)
    expect((await send('GET', '/api/beds', undefined, mine)).status).toBe(200)
    expect((await send('POST', '/api/sign-out', undefined, mine)).cookie).toContain('Max-Age=0')
    const after = await send('GET', '/api/beds', undefined, mine)
    expect(after).toMatchObject({ status: 401, body: { title: 'Not signed in' } })
    expect(after.headers['www-authenticate']).toContain('Bearer')
    const wrong = await send('POST', '/api/sign-in', { name: 'Ash', password: 'not this one' })
    const unknown = await send('POST', '/api/sign-in', { name: 'Elm', password: PASSWORD })
    expect(wrong.status).toBe(401)
    expect(unknown.body).toEqual(wrong.body)
    expect(wrong.cookie).toBeNull()
  })

  test('that was there before signing in is worth nothing afterwards', async () => {
    const first = withCookie(await makeOwner())
    const again = await send('POST', '/api/sign-in', { name: 'Ash', password: PASSWORD }, first)
    expect(again.cookie!.split(';', 1)[0]).not.toBe((first.headers as { cookie: string }).cookie)
    expect((await send('GET', '/api/beds', undefined, first)).status).toBe(401)
    expect((await send('GET', '/api/beds', undefined, withCookie(again))).status).toBe(200)
  })

  test('guessing is slowed and told when to come back', async () => {
    await makeOwner()
    const there = { remoteAddress: ELSEWHERE }
    let last: Answer | undefined
    for (let i = 0; i < 7; i++) {
      last = await send('POST', '/api/sign-in', { name: 'Ash', password: 'not this one' }, there)
    }
    expect(last).toMatchObject({ status: 429, body: { title: 'Too often' } })
    expect(Number(last!.headers['retry-after'])).toBeGreaterThan(0)
    expect(
      (await send('POST', '/api/sign-in', { name: 'Ash', password: PASSWORD }, there)).status,
    ).toBe(429)
    expect((await send('POST', '/api/sign-in', { name: 'Ash', password: PASSWORD })).status).toBe(
      204,
    )
  })

  describe('behind a proxy on the same machine', () => {
    const through = (
      header: string,
      more: Partial<InjectOptions> = {},
    ): Partial<InjectOptions> => ({
      ...more,
      headers: { 'x-forwarded-for': header },
    })
    /** Nobody's names, so that the address alone counts. */
    async function guess(times: number, more: (i: number) => Partial<InjectOptions>) {
      let status = 0
      for (let i = 0; i < times; i++) {
        const body = { name: `nobody ${i}`, password: 'not this one' }
        status = (await send('POST', '/api/sign-in', body, more(i))).status
      }
      return status
    }
    const signIn = async (more: Partial<InjectOptions>): Promise<number> =>
      (await send('POST', '/api/sign-in', { name: 'Ash', password: PASSWORD }, more)).status
    beforeEach(makeOwner)

    test('guessing slows who guesses, whatever they say of themselves, and nobody else', async () => {
      const stranger = (i: number) => through(`198.51.100.${i}, 203.0.113.5`)
      expect(await guess(7, stranger)).toBe(429)
      expect(await signIn(through('203.0.113.5'))).toBe(429)
      expect(await signIn(through('203.0.113.9'))).toBe(204)
      expect(await signIn({})).toBe(204)
    })

    test('who is not said to be anybody counts under the address of the connection', async () => {
      expect(await guess(7, (i) => through(`somebody ${i}`))).toBe(429)
      expect(await signIn(through('203.0.113.5, ?'))).toBe(429)
      expect(await signIn(through('127.0.0.1'))).toBe(429)
      expect(await signIn(through('203.0.113.5'))).toBe(204)
    })

    test('what another machine says it passes on is not believed', async () => {
      const there = { remoteAddress: ELSEWHERE }
      expect(await guess(7, (i) => through(`203.0.113.${i}`, there))).toBe(429)
      expect(await signIn(through('203.0.113.99', there))).toBe(429)
    })
  })

  test('of others ends when the password changes; this browser goes on with a new one', async () => {
    const one = await makeOwner()
    const two = await send(
      'POST',
      '/api/sign-in',
      { name: 'Ash', password: PASSWORD },
      { headers: { 'user-agent': 'Firefox/140.0 (X11; Linux x86_64)' } },
    )
    const people = (await send('GET', '/api/people', undefined, withCookie(two)))
      .body as PersonView[]
    expect(people[0]!.sessions.map(({ device, thisOne }) => ({ device, thisOne }))).toEqual(
      expect.arrayContaining([{ device: 'Firefox, Linux', thisOne: true }]),
    )
    const wrong = await send(
      'PUT',
      '/api/password',
      { current: 'not this one', password: 'snails like rain' },
      withCookie(two),
    )
    expect(wrong).toMatchObject({ status: 400, body: { errors: [{ path: 'current' }] } })
    const changed = await send(
      'PUT',
      '/api/password',
      { current: PASSWORD, password: 'snails like rain' },
      withCookie(two),
    )
    expect(changed.status).toBe(204)
    for (const old of [one, two]) {
      expect((await send('GET', '/api/beds', undefined, withCookie(old))).status).toBe(401)
    }
    expect((await send('GET', '/api/beds', undefined, withCookie(changed))).status).toBe(200)
  })
})

test('a live stream ends with the session, and with being let in for want of an owner', async () => {
  await host.app.listen({ host: '127.0.0.1', port: 0 })
  const { port } = host.app.server.address() as AddressInfo
  const stream = async (headers: Record<string, string>): Promise<IncomingMessage> => {
    const asked = httpRequest({ port, host: '127.0.0.1', path: '/api/live', headers })
    asked.end()
    const [answer] = (await once(asked, 'response')) as [IncomingMessage]
    answer.resume()
    return answer
  }
  const open = await stream({})
  expect(open.statusCode).toBe(200)
  const made = await makeOwner()
  await until(
    'the stream of somebody who is not let in any more ends',
    async () => open.readableEnded,
  )
  expect((await stream({})).statusCode).toBe(401)
  const mine = await stream((withCookie(made).headers ?? {}) as Record<string, string>)
  expect(mine.statusCode).toBe(200)
  expect(mine.readableEnded).toBe(false)
  await send('POST', '/api/sign-out', undefined, withCookie(made))
  await until('the stream ends with the session', async () => mine.readableEnded)
})

test('a live stream ends when the token it was opened with runs out', async () => {
  const owner = withCookie(await makeOwner())
  const token = (
    await send('POST', '/api/tokens', { name: 'wall', scopes: ['read'], endsAt: NOW + DAY }, owner)
  ).body as MadeKey
  await host.app.listen({ host: '127.0.0.1', port: 0 })
  const { port } = host.app.server.address() as AddressInfo
  const asked = httpRequest({
    port,
    host: '127.0.0.1',
    path: '/api/live',
    headers: { authorization: `Bearer ${token.secret}` },
  })
  asked.end()
  const [answer] = (await once(asked, 'response')) as [IncomingMessage]
  answer.resume()
  expect(answer.statusCode).toBe(200)
  host.deps.accounts.keys.sweep()
  host.setTime(NOW + DAY - 1)
  host.deps.accounts.keys.sweep()
  expect(answer.readableEnded).toBe(false)
  host.setTime(NOW + DAY)
  host.deps.accounts.keys.sweep()
  await until('the stream ends with the token', async () => answer.readableEnded)
})

test('what is written in the journal names who wrote it, and keeps that name', async () => {
  const owner = withCookie(await makeOwner())
  const bed = await host.deps.garden.addBed(
    { name: 'Long bed', areaM2: 3, depthM: 0.3, texture: 'loam', crops: [], ownBand: null },
    NOW - DAY,
  )
  const body = { at: NOW, kind: 'note', text: 'slugs' }
  const written = await send('POST', `/api/beds/${bed.id}/journal`, body, owner)
  expect(written).toMatchObject({ status: 201, body: { by: 'Ash' } })
  const token = (
    await send('POST', '/api/tokens', { name: 'watering can', scopes: ['enter'] }, owner)
  ).body as MadeKey
  const byToken = { headers: { authorization: `Bearer ${token.secret}` } }
  const second = await send('POST', `/api/beds/${bed.id}/journal`, body, byToken)
  expect(second).toMatchObject({ status: 201, body: { by: 'watering can' } })
  const { id } = written.body as Entry
  const changed = await send('PUT', `/api/journal/${id}`, { ...body, text: 'many slugs' }, byToken)
  expect(changed).toMatchObject({ status: 200, body: { by: 'Ash', text: 'many slugs' } })
})

test('keys are told once, listed without their secret, and refused when they cannot be', async () => {
  const owner = withCookie(await makeOwner())
  const bed = await host.deps.garden.addBed(
    { name: 'Long bed', areaM2: 3, depthM: 0.3, texture: 'loam', crops: [], ownBand: null },
    NOW - DAY,
  )
  for (const [url, body, path] of [
    ['/api/tokens', { name: 'x', scopes: [] }, 'scopes'],
    ['/api/tokens', { name: 'x', scopes: ['read'], endsAt: NOW }, 'endsAt'],
    ['/api/shares', { name: 'x', bedId: 999 }, 'bedId'],
  ] as const) {
    const answer = await send('POST', url, body, owner)
    expect(answer, url).toMatchObject({ status: 400, body: { errors: [{ path }] } })
  }
  const share = (
    await send('POST', '/api/shares', { name: 'Elm', bedId: bed.id, endsAt: NOW + DAY }, owner)
  ).body as MadeKey
  expect(share.paths).toEqual([`/shared/${share.secret}`])
  const feed = (await send('POST', '/api/feed-address', undefined, owner)).body as MadeKey
  expect(feed.paths).toContain(`/api/calendar.ics?key=${feed.secret}`)
  const renewed = (await send('POST', '/api/feed-address', undefined, owner)).body as MadeKey
  const ics = async (key: string) =>
    (await host.app.inject({ url: `/api/calendar.ics?key=${key}` })).statusCode
  expect([await ics(feed.secret), await ics(renewed.secret), await ics('x')]).toEqual([
    401, 200, 401,
  ])
  const listed = JSON.stringify([
    (await send('GET', '/api/shares', undefined, owner)).body,
    (await send('GET', '/api/feed-address', undefined, owner)).body,
    (await send('GET', '/api/people', undefined, owner)).body,
  ])
  for (const secret of [share.secret, feed.secret, renewed.secret, 'argon2']) {
    expect(listed).not.toContain(secret)
  }
})

test('no export of records knows of people', async () => {
  const owner = withCookie(await makeOwner())
  for (const table of ['journal.csv', 'beds.csv', 'probes.csv', 'alarms.csv', 'placements.csv']) {
    const answer = await host.app.inject({ url: `/api/export/records/${table}`, ...owner })
    expect(answer.body, table).not.toMatch(/argon2|loamline-session/)
  }
  for (const table of ['person.csv', 'session.csv', 'access_key.csv', 'people.csv']) {
    const answer = await host.app.inject({ url: `/api/export/records/${table}`, ...owner })
    expect(answer.statusCode, table).toBeGreaterThanOrEqual(400)
  }
})
