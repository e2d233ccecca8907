import { once } from 'node:events'
import { mkdirSync, writeFileSync } from 'node:fs'
import { connect, type AddressInfo } from 'node:net'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Problem } from '#hub/api/schemas/common.ts'
import { RESERVED_PROBE_IDS } from '#hub/api/schemas/common.ts'
import { createServer } from '#hub/api/server.ts'
import { HubError } from '#hub/errors.ts'
import { RESERVED_IDS } from '#hub/wire/topic.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'
import { tempDir } from '../../support/temp-dir.ts'

const NOW = 1_780_000_000_000
let host: ApiHost
beforeAll(async () => {
  host = await apiHost(NOW)
})
afterAll(async () => {
  await host[Symbol.asyncDispose]()
})

const bedInput = {
  name: 'Clay bed',
  areaM2: 2,
  depthM: 0.3,
  texture: 'clay',
  crops: [],
  ownBand: null,
}

async function refusals(
  method: 'GET' | 'POST' | 'PUT',
  url: string,
  body?: unknown,
): Promise<Record<string, string>> {
  const answer = await host.call(method, url, body)
  expect(answer.status, JSON.stringify(answer.body)).toBe(400)
  expect(answer.type).toContain('application/problem+json')
  return Object.fromEntries(
    ((answer.body as Problem).errors ?? []).map(({ path, message }) => [path, message]),
  )
}

/** What the server writes on a bare connection until it closes it. */
async function raw(port: number, request: string): Promise<string> {
  const socket = connect(port, '127.0.0.1')
  socket.setEncoding('utf8')
  let text = ''
  socket.on('data', (chunk: string) => {
    text += chunk
  })
  socket.write(request)
  await once(socket, 'close')
  return text
}

describe('a value that cannot be used is named with what was expected and what came', () => {
  test('in a form', async () => {
    expect(
      await refusals('POST', '/api/beds', { ...bedInput, name: [], areaM2: '2', depthM: 3 }),
    ).toEqual({
      name: 'expected text, got []',
      areaM2: 'expected a number, got "2"',
      depthM: 'expected at most 1.5 m, got 3',
    })
    expect(await refusals('POST', '/api/beds', { ...bedInput, texture: 'chalk' })).toEqual({
      texture: expect.stringMatching(/^expected .*"clay" or .*, got "chalk"$/),
    })
    expect(await refusals('POST', '/api/beds', [])).toEqual({ body: 'expected an object, got []' })
    expect(await refusals('POST', '/api/beds', { ...bedInput, areaM2: 1e300 })).toEqual({
      areaM2: 'expected a number of at most 10000, got 1e+300',
    })
    expect(await refusals('POST', '/api/probes', { id: 'soilprobe', name: null })).toEqual({
      name: 'expected text, got null',
    })
    expect(
      await refusals('POST', '/api/probes/soilprobe/calibrations', { kind: 'guess', at: NOW }),
    ).toEqual({ kind: 'expected "electrode" or "moisture", got "guess"' })
    const { name } = await refusals('PUT', '/api/garden', {
      name: 'x'.repeat(5000),
      zone: 'Europe/Lisbon',
      units: 'us',
    })
    expect(name!.length).toBeLessThan(100)
  })

  test('in an address: digits alone are a number', async () => {
    const series = '/api/beds/1/series?quantity=ph&to=10'
    for (const from of ['', '%20', '0x1', '1e0', '1.5', 'NaN', '-1', '99999999999999999']) {
      const { from: message } = await refusals('GET', `${series}&from=${from}`)
      expect(message, from).toMatch(/^expected a whole number from 0 to 8640000000000000, got /)
    }
    expect((await refusals('GET', `${series}&from=1&from=2`))['from']).toContain('got ["1","2"]')
    expect(await refusals('GET', '/api/beds/0x1')).toHaveProperty('id')
    expect(await refusals('GET', '/api/alarms?limit=')).toHaveProperty('limit')
  })

  test('a name is one line', async () => {
    for (const name of ['a\u0000b', 'a\nb', 'a\u202eb', '\ud800']) {
      expect(await refusals('POST', '/api/beds', { ...bedInput, name })).toEqual({
        name: expect.stringMatching(/^expected one line without control characters/),
      })
    }
    const kept = await host.call('POST', '/api/beds', { ...bedInput, name: 'Rote Bête 🌱 <b>' })
    expect(kept).toMatchObject({ status: 201, body: { name: 'Rote Bête 🌱 <b>' } })
  })

  test('an id that stands for something else in the topic tree is no probe', async () => {
    expect(RESERVED_PROBE_IDS).toEqual(RESERVED_IDS)
    for (const id of RESERVED_PROBE_IDS) {
      expect(await refusals('POST', '/api/probes', { id })).toHaveProperty('id')
    }
  })
})

describe('what does not fit what is there is refused', () => {
  async function made<T>(url: string, body: unknown): Promise<T> {
    const answer = await host.call('POST', url, body)
    expect(answer.status, JSON.stringify(answer.body)).toBe(201)
    return answer.body as T
  }

  test('a bed out of use stays as it was, and says so', async () => {
    const bed = await made<{ id: number }>('/api/beds', { ...bedInput, name: 'Past bed' })
    const spot = await made<{ id: number }>(`/api/beds/${bed.id}/spots`, { name: 'end' })
    await made('/api/probes', { id: 'pastprobe' })
    expect((await host.call('DELETE', `/api/beds/${bed.id}`)).body).toMatchObject({
      sentence: 'This bed is out of use; its history stays.',
      ph: { status: 'insufficient', have: 'out of use' },
    })
    const change = await host.call('PUT', `/api/beds/${bed.id}`, bedInput)
    expect(change).toMatchObject({ status: 409, body: { detail: 'Past bed is out of use' } })
    const more = await host.call('POST', `/api/beds/${bed.id}/spots`, { name: 'other end' })
    expect(more.status).toBe(409)
    expect(
      await refusals('POST', '/api/probes/pastprobe/placement', { spotId: spot.id, from: NOW }),
    ).toEqual({ spotId: `expected a spot of a bed in use, got ${spot.id}` })
    expect((await host.call('GET', `/api/beds/${bed.id}/journal`)).status).toBe(200)
  })

  test('two spots of one bed cannot share a name', async () => {
    const bed = await made<{ id: number }>('/api/beds', { ...bedInput, name: 'Twins' })
    const one = await made<{ id: number }>(`/api/beds/${bed.id}/spots`, { name: 'north' })
    await made(`/api/beds/${bed.id}/spots`, { name: 'south' })
    const again = await host.call('POST', `/api/beds/${bed.id}/spots`, { name: ' north ' })
    expect(again).toMatchObject({ status: 409, body: { detail: expect.stringContaining('north') } })
    expect((await host.call('PUT', `/api/spots/${one.id}`, { name: 'south' })).status).toBe(409)
    expect((await host.call('PUT', `/api/spots/${one.id}`, { name: 'north' })).status).toBe(200)
  })

  test('a visit to a probe nobody has heard of', async () => {
    const bed = await made<{ id: number }>('/api/beds', { ...bedInput, name: 'Visited' })
    const visit = { at: NOW, kind: 'service', probe: 'mispelt1' }
    expect(await refusals('POST', `/api/beds/${bed.id}/journal`, visit)).toEqual({
      probe: "expected a probe the hub has heard of, got 'mispelt1'",
    })
  })

  test('a bare offset is no time zone', async () => {
    const garden = { name: 'Plot', zone: '+05:30', units: 'metric' }
    expect(await refusals('PUT', '/api/garden', garden)).toHaveProperty('zone')
  })
})

describe('what never reaches a route is still answered in problem details', () => {
  test('an address that cannot be decoded', async () => {
    for (const url of ['/api/beds/%ff', '/%', '/api/%']) {
      const answer = await host.call('GET', url)
      expect(answer).toMatchObject({ status: 400, body: { type: 'about:blank', status: 400 } })
      expect(answer.type).toContain('application/problem+json')
    }
  })

  test('no HTTP at all, and a head that is too large', async () => {
    const app = await createServer(host.deps, { dashboardDir: null, log: () => undefined })
    await app.listen({ host: '127.0.0.1', port: 0 })
    const { port } = app.server.address() as AddressInfo
    for (const [request, status] of [
      ['HELLO\r\n\r\n', 400],
      [`GET /${'a'.repeat(40_000)} HTTP/1.1\r\nHost: x\r\n\r\n`, 431],
    ] as const) {
      const [head, body] = (await raw(port, request)).split('\r\n\r\n')
      expect(head).toContain(`HTTP/1.1 ${status}`)
      expect(head).toContain('application/problem+json')
      expect(JSON.parse(body!)).toMatchObject({ type: 'about:blank', status })
    }
    await app.close()
  })

  test('a method an address does not know is told which it knows', async () => {
    const post = await host.app.inject({ method: 'POST', url: '/api/health' })
    expect(post.statusCode).toBe(405)
    expect(post.headers['allow']).toBe('GET, HEAD')
    expect(post.json()).toMatchObject({ detail: 'expected GET or HEAD, got POST' })
    const patch = await host.app.inject({ method: 'PATCH', url: '/api/beds/3?x=1' })
    expect(patch.headers['allow']).toBe('DELETE, GET, HEAD, PUT')
    const options = await host.app.inject({ method: 'OPTIONS', url: '/api/beds' })
    expect(options.statusCode).toBe(204)
    expect(options.headers['allow']).toBe('GET, HEAD, POST')
    expect((await host.app.inject({ method: 'PUT', url: '/api/nothing' })).statusCode).toBe(404)
  })

  test('HEAD of the live stream ends', async () => {
    const head = await host.app.inject({ method: 'HEAD', url: '/api/live' })
    expect(head.statusCode).toBe(405)
    expect(host.deps.live.readers()).toBe(0)
  })
})

describe('pages of other sites', () => {
  const acknowledge = (headers: Record<string, string>) =>
    host.app.inject({ method: 'POST', url: '/api/alarms/99/acknowledge', headers })

  test('change nothing here; the own page and programs do', async () => {
    const other = await acknowledge({ host: '127.0.0.1:8090', origin: 'http://elsewhere.example' })
    expect(other.statusCode).toBe(403)
    expect(other.json()).toMatchObject({ detail: expect.stringContaining('elsewhere.example') })
    expect((await acknowledge({ host: '127.0.0.1:8090', origin: 'null' })).statusCode).toBe(403)
    for (const headers of [
      {},
      { host: '127.0.0.1:8090', origin: 'http://127.0.0.1:8090' },
      // Behind a proxy that changes the host, the browser's own word counts.
      { host: 'loamline.test', origin: 'https://beds.example', 'sec-fetch-site': 'same-origin' },
    ]) {
      expect((await acknowledge(headers)).statusCode, JSON.stringify(headers)).toBe(404)
    }
  })
})

describe('the dashboard files', () => {
  test('a file that is not there is no page; nothing outside the folder is reached', async () => {
    using dir = tempDir()
    const dist = join(dir.path, 'dist')
    mkdirSync(join(dist, 'assets'), { recursive: true })
    writeFileSync(join(dist, 'index.html'), '<p>page</p>')
    writeFileSync(join(dist, 'assets', 'a.js'), '1')
    writeFileSync(join(dir.path, 'secret.txt'), 'secret')
    const app = await createServer(host.deps, { dashboardDir: dist, log: () => undefined })
    const get = (url: string) => app.inject({ method: 'GET', url })
    for (const page of ['/', '/beds/3', '/probes/soil9?x=a.b']) {
      const answer = await get(page)
      expect(answer.body).toBe('<p>page</p>')
      expect(answer.headers['content-security-policy']).toContain("default-src 'self'")
    }
    expect((await get('/assets/a.js')).body).toBe('1')
    expect((await get('/assets/older-build.js')).statusCode).toBe(404)
    for (const url of [
      '/../secret.txt',
      '/..%2fsecret.txt',
      '/%2e%2e/secret.txt',
      '//secret.txt',
    ]) {
      expect((await get(url)).body, url).not.toBe('secret')
    }
    await app.close()
  })
})

test('a fault of the world is a note without a stack, our own has one', async () => {
  const lines: string[] = []
  let fault: Error = new HubError('HUB_STORE_UNAVAILABLE', 'the disk is full', { retry: true })
  const deps = {
    ...host.deps,
    garden: { ...host.deps.garden, beds: () => Promise.reject(fault) },
  }
  const app = await createServer(deps, {
    dashboardDir: null,
    log: (level, line) => lines.push(`${level} ${line}`),
  })
  const away = await app.inject({ method: 'GET', url: '/api/beds' })
  expect(away.json()).toMatchObject({ status: 503, detail: 'the disk is full' })
  fault = new TypeError('x is not a function')
  const ours = await app.inject({ method: 'GET', url: '/api/beds' })
  expect(ours.json()).toMatchObject({ status: 500, detail: 'the log says more' })
  expect(lines[0]).toBe('warn GET /api/beds: the disk is full')
  expect(lines[1]).toMatch(/^error GET \/api\/beds: TypeError: x is not a function\n +at /)
  expect(lines).toHaveLength(2)
  await app.close()
})
