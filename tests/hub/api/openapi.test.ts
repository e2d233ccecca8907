import { Ajv2020 } from 'ajv/dist/2020.js'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Document, Operation } from '#hub/api/open-api/document.ts'
import { EXAMPLES } from '#hub/api/open-api/examples.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'
import { smallGarden, SMALL_GARDEN_NOW, type SmallGarden } from '../../support/small-garden.ts'
import { until } from '../../support/until.ts'

let host: ApiHost
let small: SmallGarden
let document: Document
let ajv: Ajv2020
let operations: { method: string; path: string; operation: Operation }[]
beforeAll(async () => {
  host = await apiHost(SMALL_GARDEN_NOW)
  small = await smallGarden(host)
  host.evaluation.touch()
  await until(
    'the bed was looked at',
    () => host.evaluation.latest(small.bedId)?.ph.status === 'ok',
  )
  document = (await host.call('GET', '/api/openapi.json')).body as Document
  operations = Object.entries(document.paths).flatMap(([path, item]) =>
    Object.entries(item).map(([method, operation]) => ({ method, path, operation })),
  )
  ajv = new Ajv2020({
    allErrors: true,
    validateFormats: false,
    strict: true,
    strictTypes: false,
    // Tuples with a rest have more than their first members.
    strictTuples: false,
    allowUnionTypes: true,
  })
  ajv.addVocabulary(['example', 'xml', 'externalDocs', 'discriminator', 'components'])
  ajv.addSchema({ $id: 'hub:/document', components: document.components })
})
afterAll(async () => {
  await host[Symbol.asyncDispose]()
})

/** A schema of the document as one that stands alone: references lead into the document. */
const standing = (schema: unknown): object =>
  JSON.parse(
    JSON.stringify(schema).replaceAll('"#/components/', '"hub:/document#/components/'),
  ) as object
function complaints(schema: unknown, value: unknown): unknown {
  const validate = ajv.compile(standing(schema))
  return validate(value) ? null : validate.errors
}

// Rules of the OpenAPI Specification 3.1.0, section named at each. There is no copy of its JSON Schema among the
// installed packages.
describe('the document keeps to OpenAPI 3.1', () => {
  test('root, info, servers and tags (4.8.1, 4.8.2, 4.8.5, 4.8.22)', () => {
    expect(document.openapi).toMatch(/^3\.1\.\d+$/)
    expect(Object.keys(document).toSorted()).toEqual(
      ['components', 'info', 'openapi', 'paths', 'servers', 'tags'].toSorted(),
    )
    expect(document.info).toMatchObject({ title: 'Loamline API', version: '0.0.0' })
    const names = document.tags!.map(({ name }) => name)
    expect(new Set(names).size).toBe(names.length)
    for (const { description } of document.tags!) expect(description).toMatch(/\.$/)
  })

  test('every address: templates and path parameters are the same set (4.8.8, 4.8.12)', () => {
    const shapes = Object.keys(document.paths).map((path) => path.replaceAll(/\{\w+\}/g, '{}'))
    expect(new Set(shapes).size, 'two addresses of one shape').toBe(shapes.length)
    for (const { path, method, operation } of operations) {
      expect(['get', 'put', 'post', 'delete', 'patch', 'head', 'options', 'trace']).toContain(
        method,
      )
      const templates = Array.from(path.matchAll(/\{(\w+)\}/g), ([, name]) => name)
      const inPath = (operation.parameters ?? []).filter((p) => p.in === 'path')
      expect(inPath.map(({ name }) => name).toSorted(), path).toEqual(
        templates.sort((a, b) => (a! < b! ? -1 : 1)),
      )
      for (const { required } of inPath) expect(required).toBe(true)
      const keys = (operation.parameters ?? []).map((p) => `${p.in} ${p.name}`)
      expect(new Set(keys).size, `${path}: a parameter twice`).toBe(keys.length)
    }
  })

  test('every operation says what it is, what it answers and what it needs (4.8.10, 4.8.16, 4.8.17, 4.8.30)', () => {
    const ids = operations.map(({ operation }) => operation.operationId)
    expect(new Set(ids).size).toBe(ids.length)
    const tags = new Set(document.tags!.map(({ name }) => name))
    const used = new Set<string>()
    const schemes = Object.keys(document.components.securitySchemes ?? {})
    expect(schemes).toEqual(['session', 'token'])
    const faults: string[] = []
    for (const { path, method, operation } of operations) {
      const fault = (what: string) => faults.push(`${method} ${path}: ${what}`)
      if ((operation.summary ?? '').length < 5) fault('summary')
      if (operation.tags?.length !== 1 || !tags.has(operation.tags[0]!)) fault('tag')
      used.add(operation.tags?.[0] ?? '')
      for (const { name, description, schema } of operation.parameters ?? []) {
        if (description === undefined || description.length < 5) fault(`parameter ${name}`)
        if (schema === undefined) fault(`schema of ${name}`)
      }
      const codes = Object.keys(operation.responses)
      if (!codes.some((code) => /^2\d\d$/.test(code))) fault('no success')
      if (!codes.includes('default')) fault('no default')
      for (const [code, body] of Object.entries(operation.responses)) {
        if (!/^([1-5]\d\d|default)$/.test(code)) fault(`status ${code}`)
        if ((body.description ?? '').length < 4 || body.description === 'Default Response') {
          fault(`words for ${code}`)
        }
        const types = Object.keys(body.content ?? {})
        if (
          /^[45]|default/.test(code) &&
          code !== '501' &&
          types.join() !== 'application/problem+json'
        ) {
          fault(`${code} is no problem`)
        }
        if (code === '200' && types.length === 0 && method === 'get') fault('no content')
      }
      for (const requirement of operation.security ?? []) {
        for (const name of Object.keys(requirement)) if (!schemes.includes(name)) fault(name)
      }
      if (operation.security === undefined) fault('security')
    }
    expect(faults).toEqual([])
    expect([...used].toSorted()).toEqual([...tags].toSorted())
  })

  test('every schema compiles as JSON Schema 2020-12 (4.8.24), and none is there for nothing', () => {
    const names = Object.keys(document.components.schemas ?? {})
    expect(names.length).toBeGreaterThan(60)
    for (const name of names) {
      // A component name, 4.8.7.
      expect(name).toMatch(/^[a-zA-Z0-9._-]+$/)
      expect(
        () => ajv.compile({ $ref: `hub:/document#/components/schemas/${name}` }),
        name,
      ).not.toThrow()
    }
    const text = JSON.stringify(document)
    expect(names.filter((name) => !text.includes(`"#/components/schemas/${name}"`))).toEqual([])
  })
})

test('every example is one: what stands beside a schema fits it', () => {
  const wrong: unknown[] = []
  let checked = 0
  for (const { path, method, operation } of operations) {
    for (const body of [...Object.values(operation.responses), operation.requestBody]) {
      for (const { schema, example } of Object.values(body?.content ?? {})) {
        if (example === undefined) continue
        checked++
        const found = complaints(schema, example)
        if (found !== null) wrong.push([method, path, found])
      }
    }
  }
  expect(wrong).toEqual([])
  expect(checked).toBeGreaterThan(200)
  expect(
    Object.keys(EXAMPLES).filter(
      (key) => !operations.some(({ method, path }) => `${method} ${path}` === key),
    ),
  ).toEqual([])
  const bare = operations.filter(
    ({ method, path, operation }) =>
      method === 'get' &&
      path.startsWith('/api/') &&
      operation.responses['200']?.content?.['application/json'] !== undefined &&
      EXAMPLES[`${method} ${path}`] === undefined,
  )
  // Of what a demo garden does not have, or what is made for one asker.
  const NONE = [
    '/api/openapi.json',
    '/api/shared/{key}',
    '/api/shared/{key}/series',
    '/api/trials/{id}',
    '/api/jobs/{id}',
  ]
  expect(bare.map(({ path }) => path).filter((path) => !NONE.includes(path))).toEqual([])
})

test('what a garden answers fits what the document says of it', async () => {
  const week = `from=${small.from}&to=${SMALL_GARDEN_NOW}`
  const search: Readonly<Record<string, string>> = {
    '/api/beds/{id}/series': `?quantity=ph&${week}&points=50&spots=true`,
    '/api/report': `?${week}`,
    '/api/beds/{id}/report': `?${week}`,
    '/api/probes/{id}/series': `?channel=phmv&${week}&points=50`,
    '/api/probes/{id}/settling': `?channel=phmv&since=${SMALL_GARDEN_NOW - 600_000}`,
  }
  const share = {
    kind: 'share',
    name: 'next door',
    scopes: [],
    bedId: small.bedId,
    endsAt: null,
  } as const
  const { secret } = await host.deps.accounts.keys.make(share)
  await host.call('POST', `/api/beds/${small.bedId}/journal`, {
    at: SMALL_GARDEN_NOW - 3_600_000,
    kind: 'watering',
    text: 'slowly',
  })
  const wrong: unknown[] = []
  const refused: string[] = []
  let fit = 0
  for (const { path, method, operation } of operations) {
    const schema = operation.responses['200']?.content?.['application/json']?.schema
    if (method !== 'get' || schema === undefined || !path.startsWith('/api/')) continue
    const url = path
      .replace('/probes/{id}', '/probes/kes1')
      .replace('{key}', secret)
      .replace('/shared/{key}/series', `/shared/${secret}/series`)
      .replace('{id}', String(small.bedId))
    const query =
      search[path] ?? (path.endsWith('/shared/{key}/series') ? search['/api/beds/{id}/series'] : '')
    const answer = await host.call('GET', url + query)
    const said =
      answer.status === 200
        ? schema
        : operation.responses[String(answer.status)]?.content?.['application/problem+json']?.schema
    if (answer.status === 200) fit++
    else refused.push(`${answer.status} ${path}`)
    const found =
      said === undefined ? 'a status that is not described' : complaints(said, answer.body)
    if (found !== null) wrong.push([path, answer.status, found])
  }
  expect(wrong).toEqual([])
  // There is no trial, no job and no alarm in this garden.
  expect(refused.filter((row) => !/^404 .*\/(trials|jobs|alarms)\/\{id\}$/.test(row))).toEqual([])
  expect(fit).toBeGreaterThan(35)
})

test('refusals are the problems that the document shows', async () => {
  const schema = { $ref: '#/components/schemas/Problem' }
  for (const [method, url, status] of [
    ['GET', '/api/beds/99', 404],
    ['GET', '/api/beds/1/series?quantity=mood', 400],
    ['POST', '/api/beds', 400],
  ] as const) {
    const answer = await host.call(method, url, method === 'POST' ? { name: '' } : undefined)
    expect(answer.status).toBe(status)
    expect(complaints(schema, answer.body)).toBeNull()
  }
})
