import type { FastifyInstance } from 'fastify'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { needFor, rowFor, ROWS, type Need } from '#hub/api/access-table.ts'
import { COOKIE } from '#hub/api/who.ts'
import { SCOPES, type Scope } from '#hub/model/account.ts'
import { DAY } from '#hub/model/clock.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'

const NOW = 1_780_000_000_000
const PASSWORD = 'worms like rain'

interface Route {
  readonly method: string
  /** As it was registered. */
  readonly path: string
}

/** Every route of the server, as the router itself tells it: a tree, four columns a level, of parts of addresses. */
function routesOf(app: FastifyInstance): Route[] {
  const above: string[] = []
  return app
    .printRoutes({ commonPrefix: false })
    .split('\n')
    .flatMap((line) => {
      const [, indent, part, methods] = /^([│ ]*)[├└]── (\S+)(?: \(([A-Z, ]+)\))?/.exec(line) ?? []
      if (indent === undefined || part === undefined) return []
      above.length = indent.length / 4
      const path = above.join('') + part
      above.push(part)
      return (methods?.split(', ') ?? []).map((method) => ({ method, path }))
    })
}

let host: ApiHost
let routes: readonly Route[]
let bedId: number
let shareSecret: string
const tokens = new Map<Scope, string>()
beforeAll(async () => {
  host = await apiHost(NOW)
  await host.app.ready()
  routes = routesOf(host.app)
  const bed = await host.deps.garden.addBed(
    { name: 'Long bed', areaM2: 3, depthM: 0.3, texture: 'loam', crops: [], ownBand: null },
    NOW,
  )
  bedId = bed.id
  const { accounts } = host.deps
  await accounts.addPerson('Ash', 'owner', PASSWORD)
  await accounts.addPerson('Robin', 'viewer', PASSWORD)
  for (const scope of SCOPES) {
    const key = { kind: 'token', name: scope, scopes: [scope], bedId: null, endsAt: null } as const
    tokens.set(scope, (await accounts.keys.make(key)).secret)
  }
  const share = { kind: 'share', name: 'neighbour', scopes: [], bedId, endsAt: null } as const
  shareSecret = (await accounts.keys.make(share)).secret
})
afterAll(async () => {
  await host[Symbol.asyncDispose]()
})

/** A session of its own for every request: some end it. */
async function cookieOf(name: string): Promise<string> {
  const person = host.deps.accounts.people().find((p) => p.name === name)
  return `${COOKIE}=${(await host.deps.accounts.sessions.begin(person!.id, '')).secret}`
}

/** A feed address of its own, too: some renew it. */
async function newFeed(): Promise<string> {
  const feed = { kind: 'feed', name: 'feeds', scopes: [], bedId: null, endsAt: null } as const
  return (await host.deps.accounts.keys.make(feed)).secret
}

/** An address of the route; ids that are not there. */
const urlOf = (path: string, shareKey: string): string =>
  path
    .replace('/shared/:key', `/shared/${shareKey}`)
    .replace(':table', 'journal.csv')
    .replaceAll(/:\w+/g, '4711')
    .replace('*', 'nowhere')

interface Asker {
  readonly headers?: Record<string, string>
  readonly query?: string
  readonly shareKey?: string
}

/** The status of a request, and whether the guard refused it. */
async function ask(
  { method, path }: Route,
  { headers = {}, query = '', shareKey = 'none' }: Asker,
): Promise<{ status: number; refused: boolean }> {
  const url = urlOf(path, shareKey) + query
  const answer = await host.app.inject({
    method: method as 'GET',
    url,
    // A browser says where it is from; without this its cookie changes nothing.
    headers: { 'sec-fetch-site': 'same-origin', ...headers },
    // A live stream never ends by itself: its head is enough.
    payloadAsStream: true,
  })
  answer.stream().destroy()
  const status = answer.statusCode
  // The guard answers for a share link that is none as if there were no such address.
  return {
    status,
    refused: status === 401 || status === 403 || (path.includes('/shared/') && status === 404),
  }
}

test('every route has a row, and every row a route', () => {
  expect(routes.length).toBeGreaterThan(100)
  const missing = routes
    .filter(
      ({ method, path }) =>
        path !== '*' && path !== '/api/*' && method !== 'OPTIONS' && rowFor(method, path) === null,
    )
    .map(({ method, path }) => `${method} ${path}`)
  expect(missing, 'routes the table does not know').toEqual([])
  const there = new Set(routes.map(({ method, path }) => `${method} ${path}`))
  // The pages are served only where they were built.
  expect(ROWS.filter((row) => !there.has(row) && row !== 'GET /*')).toEqual([])
})

test('the table is no narrower than the document of the API', () => {
  const document = host.app.swagger() as { paths: Record<string, Record<string, unknown>> }
  const documented = Object.entries(document.paths).flatMap(([path, methods]) =>
    Object.keys(methods).map(
      (method) => `${method.toUpperCase()} ${path.replaceAll(/\{(\w+)\}/g, ':$1')}`,
    ),
  )
  expect(documented.length).toBeGreaterThan(80)
  expect(documented.filter((row) => !ROWS.includes(row))).toEqual([])
})

test('what nobody thought of is for the owner alone', () => {
  expect(needFor('GET', '/api/secrets-of-next-year')).toBe('own')
  expect(needFor('HEAD', '/api/backup.tar')).toBe('own')
  expect(needFor('GET', undefined)).toBe('anyone')
})

test('all that a viewer may send works something out and keeps nothing', () => {
  const sending = ROWS.filter(
    (row) => !row.startsWith('GET ') && !row.includes(' /sta/') && rowFor(...split(row)) === 'read',
  )
  expect(sending.toSorted()).toEqual([
    'POST /api/beds/:id/measuring/check',
    'POST /api/beds/:id/plans/draft',
    'POST /api/import/check',
    'POST /api/import/look',
    'POST /api/probes/:id/calibrations/check',
    'POST /api/probes/:id/calibrations/effect',
    'POST /api/trials/plan',
    'POST /api/water-by-weight',
  ])
})
const split = (row: string): [string, string] => row.split(' ') as [string, string]

const bearer = (token: string): Asker => ({ headers: { authorization: `Bearer ${token}` } })
const token = (scope: Scope) => async () => bearer(tokens.get(scope)!)
const ASKERS: readonly {
  readonly who: string
  readonly may: readonly Need[]
  readonly asker: () => Promise<Asker>
}[] = [
  { who: 'nobody', may: ['anyone'], asker: async () => ({}) },
  {
    who: 'the owner',
    may: ['anyone', 'signed in', 'read', 'enter', 'change', 'own', 'feed'],
    asker: async () => ({ headers: { cookie: await cookieOf('Ash') } }),
  },
  {
    who: 'a viewer',
    may: ['anyone', 'signed in', 'read', 'feed'],
    asker: async () => ({ headers: { cookie: await cookieOf('Robin') } }),
  },
  { who: 'a token that reads', may: ['anyone', 'read', 'feed'], asker: token('read') },
  { who: 'a token that enters', may: ['anyone', 'enter'], asker: token('enter') },
  { who: 'a token that changes', may: ['anyone', 'enter', 'change'], asker: token('change') },
  { who: 'a token that owns', may: ['anyone', 'own'], asker: token('own') },
  {
    who: 'a command at this machine',
    may: ['anyone', 'read', 'enter', 'change', 'own', 'feed'],
    asker: async () => bearer(host.deps.accounts.localKey),
  },
  {
    who: 'a share link in its own address',
    may: ['anyone', 'shared'],
    asker: async () => ({ shareKey: shareSecret }),
  },
  {
    who: 'a share link passed off as a token, a session and a feed address',
    may: ['anyone'],
    asker: async () => ({
      headers: { authorization: `Bearer ${shareSecret}`, cookie: `${COOKIE}=${shareSecret}` },
      query: `?key=${shareSecret}`,
    }),
  },
  {
    who: 'the feed address',
    may: ['anyone', 'feed'],
    asker: async () => ({ query: `?key=${await newFeed()}` }),
  },
  {
    who: 'the feed address passed off as a token, a session and a share link',
    may: ['anyone'],
    asker: async () => {
      const secret = await newFeed()
      return {
        headers: { authorization: `Bearer ${secret}`, cookie: `${COOKIE}=${secret}` },
        shareKey: secret,
      }
    },
  },
  {
    who: 'a token passed off as a share link, a feed address and a session',
    may: ['anyone'],
    asker: async () => ({
      headers: { cookie: `${COOKIE}=${tokens.get('read')!}` },
      query: `?key=${tokens.get('read')!}`,
      shareKey: tokens.get('read')!,
    }),
  },
]

describe.each(ASKERS)('$who', ({ may, asker }) => {
  test('is let in where the table says, and nowhere else', { timeout: 60_000 }, async () => {
    const wrong: string[] = []
    let allowed = 0
    for (const route of routes) {
      if (route.method === 'OPTIONS' || route.path === '*') continue
      const need = needFor(route.method, route.path)
      // Whether signing in itself is refused is another matter, tested by itself.
      if (['/api/sign-in', '/api/owner'].includes(route.path)) continue
      const { status, refused } = await ask(route, await asker())
      const expected = may.includes(need)
      if (expected) allowed += 1
      if (refused === expected) wrong.push(`${route.method} ${route.path} (${need}): ${status}`)
    }
    expect(wrong).toEqual([])
    expect(allowed).toBeGreaterThan(0)
  })
})

test('a share link shows its own bed, and ends at its date, when it is taken back, and with the bed', async () => {
  const other = await host.deps.garden.addBed(
    { name: 'Far bed', areaM2: 1, depthM: 0.3, texture: 'loam', crops: [], ownBand: null },
    NOW,
  )
  const { accounts } = host.deps
  const make = (id: number, endsAt: number | null) =>
    accounts.keys.make({ kind: 'share', name: 'x', scopes: [], bedId: id, endsAt })
  const one = await make(other.id, NOW + DAY)
  const get = async (secret: string) => {
    const answer = await host.app.inject({ url: `/api/shared/${secret}` })
    return {
      status: answer.statusCode,
      body: answer.json<Record<string, unknown>>(),
      text: answer.body,
    }
  }
  const shown = await get(one.secret)
  expect(shown).toMatchObject({ status: 200, body: { name: 'Far bed', endsAt: NOW + DAY } })
  expect(shown.text).not.toContain('Long bed')
  expect(Object.keys(shown.body).toSorted()).toEqual([
    'at',
    'band',
    'crops',
    'endsAt',
    'garden',
    'moisture',
    'name',
    'ph',
    'sentence',
    'standing',
    'temperature',
  ])
  const series = await host.app.inject({
    url: `/api/shared/${one.secret}/series?quantity=ph&from=${NOW - DAY}&to=${NOW}&spots=true`,
  })
  expect(series.json()).toMatchObject({ bedId: other.id, spots: [] })

  host.setTime(NOW + DAY)
  expect((await get(one.secret)).status).toBe(404)
  host.setTime(NOW)
  expect((await get(one.secret)).status).toBe(200)
  await accounts.keys.end('share', one.key.id)
  expect((await get(one.secret)).status).toBe(404)
  const two = await make(other.id, null)
  expect((await get(two.secret)).status).toBe(200)
  await host.deps.garden.retireBed(other.id, NOW)
  expect((await get(two.secret)).status).toBe(404)
})

test('a name that is not the hub’s reads nothing, whatever it leads to', async () => {
  const get = async (name: string) =>
    (await host.app.inject({ url: '/api/who', headers: { host: name } })).statusCode
  for (const name of [
    'localhost',
    'localhost:8090',
    '127.0.0.1:8090',
    '[::1]:8090',
    '192.168.7.3',
    'LOAMLINE.test:8090',
  ]) {
    expect(await get(name), name).toBe(200)
  }
  for (const name of [
    'rebound.example',
    'localhost.rebound.example',
    '127.0.0.1.rebound.example:8090',
    'x y',
  ]) {
    expect(await get(name), name).toBe(421)
  }
})

test('a browser that is signed in changes nothing for a page of another site', async () => {
  const cookie = await cookieOf('Ash')
  const send = async (headers: Record<string, string>) =>
    (
      await host.app.inject({
        method: 'DELETE',
        url: '/api/tokens/4711',
        headers: { cookie, host: 'localhost:8090', ...headers },
      })
    ).statusCode
  for (const headers of [
    { origin: 'http://elsewhere.example', 'sec-fetch-site': 'cross-site' },
    { origin: 'null' },
    { 'sec-fetch-site': 'same-site' },
    { 'sec-fetch-site': 'cross-site' },
    // With a cookie and no word of where it is from.
    {},
  ] as Record<string, string>[]) {
    expect(await send(headers), JSON.stringify(headers)).toBe(403)
  }
  for (const headers of [
    { 'sec-fetch-site': 'same-origin' },
    { origin: 'http://localhost:8090' },
    { origin: 'http://localhost:8090', 'sec-fetch-site': 'same-origin' },
  ] as Record<string, string>[]) {
    expect(await send(headers), JSON.stringify(headers)).toBe(404)
  }
  const byToken = await host.app.inject({
    method: 'DELETE',
    url: '/api/tokens/4711',
    headers: { authorization: `Bearer ${tokens.get('own')!}` },
  })
  expect(byToken.statusCode).toBe(404)
})
