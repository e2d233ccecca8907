import { EventEmitter } from 'node:events'
import type { Server } from 'node:net'
import { connect } from 'node:net'
import type { AddressInfo } from 'node:net'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import type { FastifyInstance, InjectOptions } from 'fastify'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { limitConnections } from '#hub/api/connection-limits.ts'
import { createServer } from '#hub/api/server.ts'
import { COOKIE, SECURE_COOKIE } from '#hub/api/who.ts'
import { apiHost, type ApiHost } from '#tests/support/api-host.ts'

const NOW = Date.UTC(2026, 4, 1, 12)
const PASSWORD = 'worms like rain'

/** Every address of the OpenAPI document, with its method; ids that are not there. */
function documented(app: FastifyInstance): { readonly method: string; readonly url: string }[] {
  const { paths } = app.swagger() as { paths: Record<string, Record<string, unknown>> }
  return Object.entries(paths).flatMap(([path, methods]) =>
    Object.keys(methods).map((method) => ({
      method: method.toUpperCase(),
      url: path.replaceAll(/\{table\}/g, 'journal').replaceAll(/\{\w+\}/g, '4711'),
    })),
  )
}
const isChange = ({ method }: { readonly method: string }): boolean => method !== 'GET'

let host: ApiHost
/** One that nobody owns: who is at its machine may do everything. */
let open: ApiHost
let changing: { readonly method: string; readonly url: string }[]
beforeAll(async () => {
  host = await apiHost(NOW)
  open = await apiHost(NOW)
  await host.app.ready()
  await open.app.ready()
  await host.deps.accounts.addPerson('Ash', 'owner', PASSWORD)
  await host.deps.accounts.addPerson('Robin', 'viewer', PASSWORD)
  changing = documented(host.app).filter(isChange)
})
afterAll(async () => {
  await host[Symbol.asyncDispose]()
  await open[Symbol.asyncDispose]()
})

async function cookieOf(name: string): Promise<string> {
  const person = host.deps.accounts.people().find((p) => p.name === name)
  return `${COOKIE}=${(await host.deps.accounts.sessions.begin(person!.id, '')).secret}`
}
async function send(app: FastifyInstance, options: InjectOptions) {
  return app.inject({ payloadAsStream: true, ...options })
}

/** All that is kept in the small database, but for when a session was last used. */
async function contentOf(of: ApiHost): Promise<string> {
  const { folder, drop } = await of.deps.backup()
  try {
    using garden = new DatabaseSync(join(folder, 'garden.db'), { readOnly: true })
    const tables = garden
      .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
      .all()
      .map((row) => String(row['name']))
    return JSON.stringify(
      tables
        .filter((table) => table !== 'session')
        .map((table) => [table, garden.prepare(`SELECT * FROM "${table}"`).all()]),
      (_key, value: unknown) =>
        value instanceof Uint8Array ? Buffer.from(value).toString('hex') : value,
    )
  } finally {
    drop()
  }
}

describe('a page of another site', () => {
  /** What browsers send from a page that is not the hub's own, and what forms can send without asking. */
  const FOREIGN: readonly Record<string, string>[] = [
    { origin: 'http://elsewhere.example', 'sec-fetch-site': 'cross-site' },
    { origin: 'http://elsewhere.example' },
    { origin: 'null' },
    { origin: 'http://localhost:8091' },
    { origin: 'http://localhost.elsewhere.example:8090' },
    { 'sec-fetch-site': 'cross-site' },
    { 'sec-fetch-site': 'same-site' },
    { origin: 'not an address', 'sec-fetch-site': 'none' },
  ]
  const BODIES = [
    { 'content-type': 'application/json' },
    { 'content-type': 'text/plain' },
    { 'content-type': 'application/x-www-form-urlencoded' },
    { 'content-type': 'multipart/form-data; boundary=x' },
  ]

  test('changes nothing by any address that changes something, in the name of the owner or of nobody', async () => {
    expect(changing.length).toBeGreaterThan(60)
    const cookie = await cookieOf('Ash')
    const before = [await contentOf(host), await contentOf(open)]
    const let_in: string[] = []
    for (const { method, url } of changing) {
      for (const [i, headers] of FOREIGN.entries()) {
        const body = BODIES[i % BODIES.length]!
        for (const [app, who] of [
          [host.app, { cookie }],
          // At the machine of a hub that nobody owns a page needs no cookie at all.
          [open.app, {}],
        ] as const) {
          const answer = await send(app, {
            method: method as 'POST',
            url,
            headers: { host: 'localhost:8090', ...who, ...headers, ...body },
            payload: '{}',
          })
          answer.stream().destroy()
          if (answer.statusCode !== 403) {
            let_in.push(`${method} ${url} ${JSON.stringify(headers)}: ${answer.statusCode}`)
          }
        }
      }
    }
    expect(let_in).toEqual([])
    expect([await contentOf(host), await contentOf(open)]).toEqual(before)
  })

  test('has no use for a cookie alone: who does not say where it is from is refused', async () => {
    const cookie = await cookieOf('Ash')
    for (const { method, url } of changing) {
      const answer = await send(host.app, {
        method: method as 'POST',
        url,
        headers: { host: 'localhost:8090', cookie },
      })
      answer.stream().destroy()
      expect(answer.statusCode, `${method} ${url}`).toBe(403)
    }
  })

  test('is told by no address that it may read', async () => {
    for (const { method, url } of documented(host.app)) {
      for (const asked of [method, 'OPTIONS'] as const) {
        const answer = await send(host.app, {
          method: asked as 'GET',
          url,
          headers: {
            host: 'localhost:8090',
            origin: 'http://elsewhere.example',
            'access-control-request-method': method,
          },
        })
        answer.stream().destroy()
        const told = Object.keys(answer.headers).filter((name) => name.startsWith('access-control'))
        expect(told, `${asked} ${url}`).toEqual([])
      }
    }
  })

  test('gains nothing by a link: what is only asked for changes nothing', async () => {
    // The cookie comes along when somebody follows a link (SameSite=Lax).
    const cookie = await cookieOf('Ash')
    const before = await contentOf(host)
    for (const { method, url } of documented(host.app).filter((row) => !isChange(row))) {
      const answer = await send(host.app, {
        method: method as 'GET',
        url,
        headers: { host: 'localhost:8090', cookie, 'sec-fetch-site': 'cross-site' },
      })
      answer.stream().destroy()
      expect(answer.statusCode, url).toBeLessThan(500)
    }
    expect(await contentOf(host)).toBe(before)
  })
})

describe('what every answer carries', () => {
  const ALWAYS = {
    'x-content-type-options': 'nosniff',
    'referrer-policy': 'no-referrer',
    'x-frame-options': 'DENY',
    'cross-origin-opener-policy': 'same-origin',
    'cross-origin-resource-policy': 'same-origin',
    'content-security-policy': expect.stringContaining("default-src 'none'"),
  }

  test('headers that hold browsers back, answers in vain included', async () => {
    const cookie = await cookieOf('Ash')
    const asked: InjectOptions[] = [
      ...documented(host.app).map(({ method, url }) => ({
        method: method as 'GET',
        url,
        headers: { cookie, 'sec-fetch-site': 'same-origin' },
      })),
      { url: '/api/nowhere' },
      { url: '/api/%zz' },
      { url: '/api/people' },
      { url: '/api/who', headers: { host: 'rebound.example' } },
      {
        url: '/api/beds',
        method: 'POST',
        payload: '{',
        headers: { 'content-type': 'application/json' },
      },
    ]
    for (const options of asked) {
      const answer = await send(host.app, options)
      answer.stream().destroy()
      expect(answer.headers, JSON.stringify(options)).toMatchObject(ALWAYS)
      const told = Object.keys(answer.headers)
      expect(told.filter((name) => ['x-powered-by', 'server'].includes(name))).toEqual([])
    }
  })

  test('a session is a cookie no script reads and no other site sends; over HTTPS it goes no other way', async () => {
    const signIn = async (headers: Record<string, string>) =>
      host.app.inject({
        method: 'POST',
        url: '/api/sign-in',
        payload: { name: 'Ash', password: PASSWORD },
        headers,
      })
    const plain = await signIn({})
    const [first] = [plain.headers['set-cookie']].flat()
    expect(first).toMatch(
      new RegExp(`^${COOKIE}=[\\w-]{43}; Path=/; Max-Age=\\d+; HttpOnly; SameSite=Lax$`),
    )
    expect(plain.headers['cache-control']).toBe('no-store')
    expect(plain.body).toBe('')
    const proxied = { 'x-forwarded-for': '192.0.2.9', 'x-forwarded-proto': 'https' }
    const secure = String((await signIn(proxied)).headers['set-cookie'])
    expect(secure).toMatch(new RegExp(`^${SECURE_COOKIE}=.*; Path=/; .*; Secure$`))
    expect(secure).not.toContain('Domain')
    // Somebody on the way of plain HTTP can give a browser a cookie; over HTTPS it opens nothing.
    const who = async (cookie: string): Promise<unknown> =>
      (await host.app.inject({ url: '/api/who', headers: { ...proxied, cookie } })).json()
    expect(await who(secure.split(';', 1)[0]!)).toMatchObject({ state: 'in', name: 'Ash' })
    const planted = first!.split(';', 1)[0]!
    expect(await who(planted)).toMatchObject({ state: 'sign in' })
    expect(await who(`${planted}; ${secure.split(';', 1)[0]!}`)).toMatchObject({ state: 'in' })
  })
})

describe('what is too large', () => {
  const FILES = new Set([
    '/api/import/look',
    '/api/import/check',
    '/api/import/store',
    '/api/journal/4711/photo',
    '/api/damaged/bring-back',
  ])
  test('is not taken: 256 KiB for every form, more for files alone', async () => {
    const cookie = await cookieOf('Ash')
    for (const { method, url } of changing) {
      if (FILES.has(url)) continue
      const answer = await send(host.app, {
        method: method as 'POST',
        url,
        headers: { cookie, 'sec-fetch-site': 'same-origin', 'content-type': 'application/json' },
        payload: JSON.stringify({ note: 'x'.repeat(257 * 1024) }),
      })
      answer.stream().destroy()
      expect(answer.statusCode, `${method} ${url}`).toBe(413)
    }
    const photo = await host.app.inject({
      method: 'PUT',
      url: '/api/journal/4711/photo',
      headers: { cookie, 'sec-fetch-site': 'same-origin', 'content-type': 'image/jpeg' },
      payload: Buffer.alloc(3 * 1024 * 1024 + 1),
    })
    expect(photo.statusCode).toBe(413)
    const look = await host.app.inject({
      method: 'POST',
      url: '/api/import/look',
      headers: { cookie, 'sec-fetch-site': 'same-origin', 'content-type': 'text/csv' },
      payload: Buffer.alloc(256 * 1024 + 1, 'a'),
    })
    expect(look.statusCode).toBe(413)
  })

  test('a body cannot change what objects are', async () => {
    const cookie = await cookieOf('Ash')
    for (const payload of ['{"__proto__":{"a":1}}', '{"constructor":{"prototype":{"a":1}}}']) {
      const answer = await host.app.inject({
        method: 'POST',
        url: '/api/beds',
        headers: { cookie, 'sec-fetch-site': 'same-origin', 'content-type': 'application/json' },
        payload,
      })
      expect(answer.statusCode, payload).toBe(400)
    }
    expect(({} as { a?: number }).a).toBeUndefined()
  })
})

describe('who asks too often', () => {
  const [MOST_UNKNOWN, MOST_KNOWN, MOST_HEAVY] = [60, 120, 10]
  let app: FastifyInstance
  beforeAll(async () => {
    app = await createServer(host.deps, {
      dashboardDir: null,
      log: () => undefined,
      limits: { unknown: MOST_UNKNOWN, known: MOST_KNOWN, heavy: MOST_HEAVY },
    })
  })
  afterAll(() => app.close())

  /** How many of so many requests are answered otherwise than with 429. */
  async function answered(
    count: number,
    options: InjectOptions | ((n: number) => InjectOptions),
  ): Promise<number> {
    let good = 0
    for (let n = 0; n < count; n++) {
      const answer = await send(app, {
        url: '/api/who',
        ...(typeof options === 'function' ? options(n) : options),
      })
      answer.stream().destroy()
      if (answer.statusCode !== 429) good += 1
      else expect(Number(answer.headers['retry-after'])).toBeGreaterThan(0)
    }
    return good
  }

  test('is put off by address; one IPv6 network is one; others do not feel it', async () => {
    expect(await answered(MOST_UNKNOWN + 50, { remoteAddress: '192.0.2.7' })).toBe(MOST_UNKNOWN)
    expect(await answered(1, { remoteAddress: '192.0.2.8' })).toBe(1)
    expect(
      await answered(MOST_UNKNOWN + 50, (n) => ({
        remoteAddress: `2001:db8:1:2::${n.toString(16)}`,
      })),
    ).toBe(MOST_UNKNOWN)
    expect(await answered(1, { remoteAddress: '2001:db8:1:3::1' })).toBe(1)
    const told = await app.inject({ url: '/api/who', remoteAddress: '192.0.2.7' })
    expect(told.json()).toMatchObject({
      status: 429,
      title: 'Too often',
      detail: expect.stringContaining(`at most ${MOST_UNKNOWN} a minute`),
    })
  })

  test('who is at the machine is not counted, nor is the owner wherever they are', async () => {
    expect(await answered(MOST_KNOWN + 50, { remoteAddress: '127.0.0.1' })).toBe(MOST_KNOWN + 50)
    const cookie = await cookieOf('Ash')
    const owner = { remoteAddress: '192.0.2.7', headers: { cookie } }
    expect(await answered(MOST_KNOWN + 50, owner)).toBe(MOST_KNOWN + 50)
  })

  test('a viewer has more, and so has a token, each by itself', async () => {
    const cookie = await cookieOf('Robin')
    const viewer = (n: number): InjectOptions => ({
      remoteAddress: `192.0.2.${n % 200}`,
      headers: { cookie },
    })
    expect(await answered(MOST_KNOWN + 20, viewer)).toBe(MOST_KNOWN)
    const key = {
      kind: 'token',
      name: 'chart',
      scopes: ['read'],
      bedId: null,
      endsAt: null,
    } as const
    const { secret } = await host.deps.accounts.keys.make(key)
    const token = { remoteAddress: '192.0.2.50', headers: { authorization: `Bearer ${secret}` } }
    expect(await answered(MOST_KNOWN + 20, token)).toBe(MOST_KNOWN)
  })

  test('whole files are asked for less often', async () => {
    const key = {
      kind: 'token',
      name: 'files',
      scopes: ['read'],
      bedId: null,
      endsAt: null,
    } as const
    const { secret } = await host.deps.accounts.keys.make(key)
    const export_ = {
      url: '/api/export/readings.csv',
      remoteAddress: '192.0.2.51',
      headers: { authorization: `Bearer ${secret}` },
    }
    expect(await answered(MOST_HEAVY + 20, export_)).toBe(MOST_HEAVY)
    expect(await answered(1, { ...export_, url: '/api/beds' })).toBe(1)
  })

  test('nobody who uses pages and programs in the usual way comes near it', async () => {
    // The limits as they hold: sixty things at once, as a page asks when it opens, twelve times over.
    let good = 0
    for (let n = 0; n < 720; n++) {
      const answer = await send(host.app, { url: '/api/who', remoteAddress: '192.0.2.200' })
      answer.stream().destroy()
      if (answer.statusCode === 200) good += 1
    }
    expect(good).toBe(720)
  })

  test('nobody gets around it by what they say of themselves', async () => {
    const liar = (n: number): InjectOptions => ({
      remoteAddress: '192.0.2.60',
      headers: {
        'x-forwarded-for': `198.51.100.${n % 250}`,
        'x-real-ip': `198.51.100.${n % 250}`,
        forwarded: `for=198.51.100.${n % 250}`,
      },
    })
    expect(await answered(MOST_UNKNOWN + 50, liar)).toBe(MOST_UNKNOWN)
  })
})

describe('a proxy on this machine', () => {
  const HEADERS = {
    'x-forwarded-for': '198.51.100.1, 192.0.2.1',
    forwarded: 'for=198.51.100.2;proto=http, for="[2001:db8:7::2]:4711";proto=https;by=_hub',
    'x-real-ip': '192.0.2.3',
  }
  const EXPECTED = {
    'x-forwarded-for': '192.0.2.1',
    forwarded: '2001:db8:7:0',
    'x-real-ip': '192.0.2.3',
    none: '127.0.0.1',
  } as const

  test.each(Object.keys(EXPECTED) as (keyof typeof EXPECTED)[])(
    'that writes %s is believed in that alone, and what it passes on is never this machine',
    async (proxyHeader) => {
      const deps = { ...open.deps, http: { ...open.deps.http, proxyHeader } }
      const app = await createServer(deps, { dashboardDir: null, log: () => undefined })
      const asked: string[] = []
      app.addHook('onSend', async (request) => {
        const { originOf } = await import('#hub/api/who.ts')
        const { address, local } = originOf(request)
        asked.push(`${address} ${local}`)
      })
      const who = await app.inject({ url: '/api/who', headers: HEADERS })
      expect(asked).toEqual([`${EXPECTED[proxyHeader]} false`])
      expect(who.json()).toMatchObject({ state: 'no owner' })
      const change = await app.inject({
        method: 'POST',
        url: '/api/beds',
        headers: { ...HEADERS, 'sec-fetch-site': 'same-origin' },
        payload: {},
      })
      expect(change.statusCode).toBe(403)
      // Any one of them is enough to know that somebody else asks.
      for (const [name, value] of Object.entries(HEADERS)) {
        const one = await app.inject({ url: '/api/who', headers: { [name]: value } })
        expect(one.json(), name).toMatchObject({ state: 'no owner' })
      }
      // From another machine no word of it counts.
      await app.inject({ url: '/api/who', headers: HEADERS, remoteAddress: '203.0.113.5' })
      expect(asked.at(-1)).toBe('203.0.113.5 false')
      await app.close()
    },
  )
})

describe('who is slow', () => {
  let app: FastifyInstance
  let port: number
  beforeAll(async () => {
    app = await createServer(open.deps, {
      dashboardDir: null,
      log: () => undefined,
      slow: { headMs: 400, wholeMs: 400, stallMs: 3000, leastBytes: 1024, lookEveryMs: 100 },
    })
    await app.listen({ host: '127.0.0.1', port: 0 })
    port = (app.server.address() as AddressInfo).port
  })
  afterAll(() => app.close())

  /** Sends pieces with pauses; resolves to all that came back once the connection is over. */
  function drip(pieces: Iterable<string>, pauseMs: number): Promise<string> {
    return new Promise((resolve) => {
      const socket = connect(port, '127.0.0.1')
      let text = ''
      const iterator = pieces[Symbol.iterator]()
      const timer = setInterval(() => {
        const next = iterator.next()
        if (next.done === true) clearInterval(timer)
        else if (socket.writable) socket.write(next.value)
      }, pauseMs)
      socket.on('data', (chunk: Buffer) => {
        text += chunk.toString()
        if (/\r\n\r\n[^]*[{]/.test(text)) socket.end()
      })
      socket.on('error', () => {})
      socket.on('close', () => {
        clearInterval(timer)
        resolve(text)
      })
    })
  }
  function* forever(first: string, then: string): Generator<string> {
    yield first
    for (;;) yield then
  }
  const head = (path: string, length: number, type = 'application/json'): string =>
    `POST ${path} HTTP/1.1\r\nhost: 127.0.0.1:${port}\r\nsec-fetch-site: same-origin\r\n` +
    `content-type: ${type}\r\ncontent-length: ${length}\r\n\r\n`

  test('with its head is ended', async () => {
    const answer = await drip(
      forever('GET /api/who HTTP/1.1\r\nhost: 127.0.0.1\r\n', 'x: y\r\n'),
      50,
    )
    expect(answer).toMatch(/^HTTP\/1\.1 408 /)
    expect(answer).toContain('"title":"Too slow"')
  })

  test('with a form is ended, however steadily it drips', async () => {
    const answer = await drip(forever(head('/api/beds', 100_000), 'x'.repeat(50)), 20)
    expect(answer).toMatch(/^HTTP\/1\.1 408 /)
  })

  test('with a file is ended when nothing comes any more, and is let go on while enough comes', async () => {
    const map = encodeURIComponent(
      JSON.stringify({
        layout: 'lines',
        precision: 'ns',
        probe: { column: 'probe' },
        channels: [],
      }),
    )
    const path = `/api/import/check?map=${map}`
    const stalled = await drip(forever(head(path, 100_000, 'text/plain'), 'x'), 50)
    expect(stalled).toMatch(/^HTTP\/1\.1 408 /)
    const line = (n: number): string => `soil,probe=kes1 phmv=12.5 17776000${100 + n}0000000000\n`
    const lines = Array.from({ length: 400 }, (_, n) => line(n))
    const whole = lines.join('')
    const pieces = [head(path, whole.length, 'text/plain')]
    // Ten pieces a second for more than twice as long as a form may take.
    for (let i = 0; i < 400; i += 40) pieces.push(lines.slice(i, i + 40).join(''))
    const steady = await drip(pieces, 100)
    expect(steady).toMatch(/^HTTP\/1\.1 200 /)
  })

  test('keeps nobody else from being answered', async () => {
    const slow = Array.from({ length: 100 }, () =>
      drip(forever(head('/api/beds', 100_000), 'x'), 50),
    )
    const answers = await Promise.all(
      Array.from({ length: 20 }, () => fetch(`http://127.0.0.1:${port}/api/who`)),
    )
    expect(answers.map(({ status }) => status)).toEqual(Array.from({ length: 20 }, () => 200))
    await Promise.all(slow)
  })
})

test('one address has no more than so many connections, and gets room again as they end', () => {
  class FakeSocket extends EventEmitter {
    readonly remoteAddress: string
    readonly localAddress = '192.0.2.1'
    destroyed = false
    constructor(remoteAddress: string) {
      super()
      this.remoteAddress = remoteAddress
    }
    destroy(): void {
      this.destroyed = true
      this.emit('close')
    }
  }
  const server = new EventEmitter() as unknown as Server
  limitConnections(server, 3)
  const come = (address: string): FakeSocket => {
    const socket = new FakeSocket(address)
    server.emit('connection', socket)
    return socket
  }
  const four = Array.from({ length: 4 }, () => come('192.0.2.9'))
  expect(four.map(({ destroyed }) => destroyed)).toEqual([false, false, false, true])
  expect(come('192.0.2.10').destroyed).toBe(false)
  expect(Array.from({ length: 9 }, () => come('127.0.0.1')).some((s) => s.destroyed)).toBe(false)
  four[0]!.destroy()
  expect(come('192.0.2.9').destroyed).toBe(false)
  expect(come('192.0.2.9').destroyed).toBe(true)
  expect(server.maxConnections).toBeGreaterThan(100)
})
