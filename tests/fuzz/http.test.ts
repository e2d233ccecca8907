import fc from 'fast-check'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Document, Operation, Parameter } from '#hub/api/open-api/document.ts'
import { apiHost, type ApiHost } from '../support/api-host.ts'
import {
  DECIDED_AT,
  goneThrough,
  plantPlannedGarden,
  readPlannedGarden,
} from '../support/planned-garden.ts'
import { smallGarden } from '../support/small-garden.ts'
import { broken, fromSchema } from './from-schema.ts'
import { GOOD_BODIES, GOOD_FILES, GOOD_MAPS, PICTURE } from './good-bodies.ts'
import { hostileJson, hostileText } from './hostile.ts'
import { longest, runs } from './size.ts'

/*
 * Every operation of the OpenAPI document, with what it says it takes and with that broken on purpose. Whatever comes,
 * the answer is one of the document's, or problem details; never a fault of the hub's own, never a trace of its code.
 */

type Method = 'GET' | 'POST' | 'PUT' | 'DELETE'
interface Asked {
  readonly method: Method
  readonly url: string
  readonly headers: Record<string, string>
  readonly payload: string | Buffer | undefined
}

/** A stream does not end, and a backup takes half a second: both have tests of their own. */
const APART = new Set(['GET /api/live', 'GET /api/backup.tar'])
/** What needs the cookie of a browser, a job under way, or an alarm or a person of the right id: other tests do these. */
const SELDOM = new Set([
  'POST /api/owner',
  'POST /api/sign-in',
  'POST /api/sign-out',
  'PUT /api/password',
  'DELETE /api/sessions/{id}',
  'DELETE /api/spots/{id}',
  'DELETE /api/journal/{id}/photo',
  'POST /api/trials',
  'POST /api/beds/{id}/plans',
  'POST /api/plans/{id}/stages/{stage}/done',
  'POST /api/alarms/{id}/shelve',
  'POST /api/message-routes/{id}/test',
  'GET /api/jobs/{id}',
  'POST /api/jobs/{id}/cancel',
])
/** Ids that are there, and ids that are not. */
const ids = fc.oneof(
  { weight: 6, arbitrary: fc.constantFrom('1', '2', '3') },
  { weight: 1, arbitrary: fc.constantFrom('0', '-1', '999999', '9007199254740993', '1e3', '1.5') },
  { weight: 1, arbitrary: hostileText.map(encodeText) },
)
const probeIds = fc.oneof(
  { weight: 6, arbitrary: fc.constantFrom('kes1', 'wren2') },
  { weight: 1, arbitrary: fc.constantFrom('hub', 'nobody9', '__proto__', 'KES1') },
  { weight: 1, arbitrary: hostileText.map(encodeText) },
)

/** Steps of a path within SensorThings (OGC 18-088), and words of its query options. */
const steps = fc.oneof(
  fc.constantFrom(
    'Things',
    'Datastreams',
    'Observations',
    'Locations',
    'Sensors',
    "Things('her1')",
    "Things('kes1')",
    "Datastreams('her1:ph')",
    'Observations(1)',
  ),
  fc.constantFrom(
    'name',
    'properties',
    'id',
    '@iot.id',
    '$ref',
    '$value',
    '$count',
    'constructor',
    '__proto__',
    'toString',
  ),
  hostileText.map(encodeText),
)
const things = fc.array(steps, { minLength: 1, maxLength: 4 }).map((all) => all.join('/'))
const words = fc
  .array(
    fc.oneof(
      fc.constantFrom(
        'name',
        'Datastreams',
        'Observations',
        'constructor',
        '__proto__/name',
        'constructor/x',
        'result',
      ),
      fc.constantFrom(
        ' eq ',
        ' and ',
        ' add ',
        ' not ',
        '(',
        ')',
        ',',
        '/',
        ';',
        '$expand=',
        '$top=1',
        "'",
        "'a'",
      ),
      fc.constantFrom(
        '1',
        '-1',
        '1e999',
        '2026-05-01T00:00:00Z',
        'null',
        'true',
        'desc',
        'substringof(',
      ),
      hostileText.filter((one) => one.length < 200),
    ),
    { minLength: 1, maxLength: 7 },
  )
  .map((all) => all.join(''))

function encodeText(text: string): string {
  try {
    return encodeURIComponent(text)
  } catch {
    // A lone surrogate has no UTF-8; as bytes it is as wrong as it gets.
    return '%ed%a0%80'
  }
}

let host: ApiHost
let document: Document
let operations: { readonly key: string; readonly method: Method; path: string; of: Operation }[]

/** The secret of a share link, so that its address leads somewhere. */
let shared: string

async function open(): Promise<void> {
  host = await apiHost(DECIDED_AT)
  const { sour, fine } = await plantPlannedGarden(host.deps)
  await readPlannedGarden(host.deps)
  await smallGarden(host, { days: 1 })
  await goneThrough(host.deps, [sour, fine])
  await host.deps.garden.setPhoto({
    entryId: 1,
    type: 'image/png',
    bytes: new Uint8Array(PICTURE),
  })
  const share = { kind: 'share', name: 'next door', scopes: [], bedId: 1, endsAt: null } as const
  shared = (await host.deps.accounts.keys.make(share)).secret
  for (const url of ['/api/trials', '/api/beds/1/plans', '/api/message-routes']) {
    const [body] = GOOD_BODIES[`POST ${url.replace('/1/', '/{id}/')}`] ?? []
    const made = await host.call('POST', url, body)
    expect(made.status, `${url} ${JSON.stringify(made.body)}`).toBe(201)
  }
  document = (await host.call('GET', '/api/openapi.json')).body as Document
  operations = Object.entries(document.paths).flatMap(([path, item]) =>
    Object.entries(item).map(([word, of]) => {
      const method = word.toUpperCase() as Method
      return { key: `${method} ${path}`, method, path, of }
    }),
  )
}

function pathOf({ path, of }: { path: string; of: Operation }): fc.Arbitrary<string> {
  const names = Array.from(path.matchAll(/\{(\w+)\}/g), ([, name]) => name!)
  const values = names.map((name) =>
    path.startsWith('/api/probes/') && name === 'id'
      ? probeIds
      : name === 'key'
        ? fc.oneof(fc.constant(shared), hostileText.map(encodeText))
        : name === 'path' || name === 'table'
          ? nameOf(of.parameters?.find((p) => p.name === name))
          : ids,
  )
  return fc
    .tuple(...values)
    .map((found) => path.replaceAll(/\{\w+\}/g, () => (found as string[]).shift()!))
}

/** A path within SensorThings, or the name of a table. */
function nameOf(parameter: Parameter | undefined): fc.Arbitrary<string> {
  const known = parameter?.schema?.['enum'] as string[] | undefined
  return fc.oneof(
    known === undefined ? things : fc.constantFrom(...known),
    hostileText.map(encodeText),
  )
}

function queryOf({ parameters = [] }: Operation): fc.Arbitrary<string> {
  const asked = parameters.filter((p) => p.in === 'query')
  const kinds = asked.map((p) => {
    const plain = fromSchema(document, p.schema ?? {}).map(String)
    // Texts whose schema says nothing of what they are.
    const known = p.name.startsWith('$')
      ? words
      : { map: mapsOf(), channel: fc.constantFrom('ph', 'phmv', 'm', 'st') }[p.name]
    const right = fc.oneof(plain, ...(known === undefined ? [] : [known, known])).map(encodeText)
    const wrong = hostileText.map(encodeText)
    const one = fc.oneof({ weight: 5, arbitrary: right }, { weight: 1, arbitrary: wrong })
    const there = p.required === true ? fc.constant(true) : fc.boolean()
    return fc
      .tuple(there, one, fc.nat(20))
      .map(([is, value, twice]) =>
        is ? [`${p.name}=${value}`, ...(twice === 0 ? [`${p.name}=${value}`] : [])] : [],
      )
  })
  return fc.tuple(...kinds).map((found) => {
    const text = (found as string[][]).flat().join('&')
    return text === '' ? '' : `?${text}`
  })
}

/** How a file is read, as it stands in an address. */
const mapsOf = (): fc.Arbitrary<string> => {
  const good = fc.constantFrom<unknown>(...GOOD_MAPS)
  return fc.oneof(good, good, good.chain(broken)).map(hostileJson)
}

/** Bodies as bytes: what the schema allows, that broken, and what is no such body at all. */
function bodyOf(key: string, of: Operation): fc.Arbitrary<Pick<Asked, 'headers' | 'payload'>> {
  const content = of.requestBody?.content
  const [[type, media] = [undefined, undefined]] = Object.entries(content ?? {})
  if (type === undefined) return fc.constant({ headers: {}, payload: undefined })
  const raw = fc.uint8Array({ maxLength: 400 }).map((bytes) => Buffer.from(bytes))
  if (type !== 'application/json') {
    const lines = hostileText.map((text) => Buffer.from(`time,probe,ph\n${text},kes1,${text}\n`))
    const good = fc.constantFrom(PICTURE, ...GOOD_FILES.map((text) => Buffer.from(text)))
    return fc
      .oneof(raw, lines, good, good)
      .map((payload) => ({ headers: { 'content-type': 'application/octet-stream' }, payload }))
  }
  const known = [
    ...(media?.example === undefined ? [] : [media.example]),
    ...(GOOD_BODIES[key] ?? []),
  ]
  const right = fc.oneof(...known.map(fc.constant), fromSchema(document, media?.schema ?? {}))
  const bodies = fc.oneof(
    { weight: 4, arbitrary: right },
    { weight: 8, arbitrary: right.chain(broken) },
    { weight: 2, arbitrary: right.chain(broken).chain(broken) },
  )
  const json = fc.tuple(bodies, fc.nat(40)).map(([body, odd]) => {
    const text = hostileJson(body)
    const headers: Record<string, string> = { 'content-type': 'application/json' }
    switch (odd) {
      case 0:
        return { headers, payload: Buffer.from(`\ufeff${text}`, 'utf16le') }
      case 1:
        return { headers, payload: `\ufeff${text}` }
      case 2:
        return { headers, payload: text.slice(0, text.length / 2) }
      case 3:
        return { headers: { 'content-type': 'text/plain' }, payload: text }
      case 4:
        return { headers: { ...headers, 'content-encoding': 'gzip' }, payload: text }
      case 5:
        return { headers, payload: `${'['.repeat(120_000)}1${']'.repeat(120_000)}` }
      case 6:
        return { headers, payload: '{"a":'.repeat(40_000) + '1' + '}'.repeat(40_000) }
      case 7:
        return { headers, payload: Buffer.from([0x22, 0xff, 0xfe, 0x80, 0x22]) }
      case 8:
        return { headers, payload: 'x'.repeat(300_000) }
      case 9:
        return { headers: { 'content-type': 'application/json; charset=latin1' }, payload: text }
      case 10:
        return { headers: { 'content-type': '\u0001/;=,' }, payload: text }
      case 11:
        return { headers, payload: '' }
      case 12:
        return { headers, payload: `{"__proto__":{"polluted":"planted"},${text.slice(1)}` }
      default:
        return { headers, payload: text }
    }
  })
  return fc.oneof(
    { weight: 20, arbitrary: json },
    {
      weight: 1,
      arbitrary: raw.map((payload) => ({
        headers: { 'content-type': 'application/json' },
        payload,
      })),
    },
  )
}

const TRACE = /\n\s+at |node_modules|\.ts:\d+|file:\/\/|SQLITE|sqlite_|node:internal/
/** What of an answer is not as promised. */
async function faultOf(
  asked: Asked,
  key: string | null,
  operation: string,
): Promise<string | null> {
  const { method, url, headers, payload } = asked
  const response = await host.app.inject({
    method,
    url,
    headers: {
      ...headers,
      ...(key === null ? {} : { authorization: `Bearer ${key}` }),
    },
    ...(payload === undefined ? {} : { payload }),
  })
  const { statusCode: status, body } = response
  if (status >= 500) return `${status}: ${body.slice(0, 300)}`
  if (Object.keys(response.headers).includes('x-planted')) return 'a header was planted'
  if (({} as { polluted?: unknown }).polluted !== undefined) return 'a prototype was changed'
  if (status < 400) {
    taken.add(operation)
    return null
  }
  if (!String(response.headers['content-type']).startsWith('application/problem+json')) {
    return `${status} as ${String(response.headers['content-type'])}`
  }
  const problem = JSON.parse(body) as { status: unknown; title: unknown; detail: unknown }
  if (problem.status !== status || typeof problem.title !== 'string') return `no problem: ${body}`
  if (typeof problem.detail !== 'string' || problem.detail === '') return `no detail: ${body}`
  if (TRACE.test(body)) return `a trace of the code: ${body.slice(0, 300)}`
  if (body.length > 64 * 1024) return `an answer of ${body.length} bytes to a bad request`
  return null
}

/** Operations that took something. */
const taken = new Set<string>()

beforeAll(async () => {
  await open()
})
afterAll(async () => {
  await host[Symbol.asyncDispose]()
})

async function tryAll(method: Method, usual: number): Promise<void> {
  const faults: string[] = []
  for (const operation of operations.filter((o) => o.method === method && !APART.has(o.key))) {
    const asked = fc.record({
      path: pathOf(operation),
      query: queryOf(operation.of),
      body: bodyOf(operation.key, operation.of),
      known: fc.nat(12),
    })
    // Each hash of a password takes 46 MiB and some of a second.
    // SensorThings has a language of its own behind one address.
    const share = /password|people|owner|sign-in/.test(operation.path)
      ? 0.2
      : /sta.*path/.test(operation.path)
        ? 40
        : 1
    await fc
      .assert(
        fc.asyncProperty(asked, async ({ path, query, body, known }) => {
          const one = { method, url: path + query, ...body }
          const fault = await faultOf(
            one,
            known === 0 ? null : host.deps.accounts.localKey,
            operation.key,
          )
          if (fault === null) return true
          throw new Error(
            `${method} ${one.url} ${JSON.stringify(one.headers)} ${String(one.payload).slice(0, 500)}\n→ ${fault}`,
          )
        }),
        { ...runs(Math.ceil(usual * share)), endOnFailure: false },
      )
      .catch((error: unknown) => faults.push(`${operation.key}\n${(error as Error).message}`))
  }
  expect(faults).toEqual([])
}

describe('whatever is asked, the answer is one of the document, or problem details', () => {
  for (const [method, usual] of [
    ['GET', 25],
    ['POST', 45],
    ['PUT', 45],
    ['DELETE', 20],
  ] as const) {
    test(method, () => tryAll(method, usual), longest(120_000))
  }

  test('a list of thousands of wrong values is one short answer, and a secret is not repeated in it', async () => {
    const [good] = GOOD_BODIES['POST /api/message-routes'] as [{ readonly target: object }]
    const { body, statusCode } = await host.app.inject({
      method: 'POST',
      url: '/api/message-routes',
      headers: { authorization: `Bearer ${host.deps.accounts.localKey}` },
      payload: {
        ...good,
        target: { ...good.target, key: 'short-marked' },
        kinds: Array.from({ length: 3000 }, (_, i) => i),
      },
    })
    expect(statusCode).toBe(400)
    expect((JSON.parse(body) as { errors: unknown[] }).errors).toHaveLength(50)
    expect(body).not.toContain('short-marked')
    expect(body.length).toBeLessThan(20_000)
  })
  test('and most of it is not stopped at the door: nearly every operation took something', () => {
    const asked = operations.filter(({ key }) => !APART.has(key) && !SELDOM.has(key))
    const never = asked.filter(({ key }) => !taken.has(key)).map(({ key }) => key)
    expect(never.length / asked.length, never.join(', ')).toBeLessThan(0.1)
  })
})
