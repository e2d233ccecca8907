import { readFileSync } from 'node:fs'
import { afterEach, beforeEach, expect, test } from 'vitest'
import type { ProbeSetup } from '#hub/api/schemas/access.ts'
import type { ProbeView } from '#hub/api/schemas/probe.ts'
import { freeProbeId } from '#hub/api/free-probe-id.ts'
import { brokerFor, probeSetup } from '#hub/api/views/probe-setup.ts'
import { apiHost, type ApiHost } from '#tests/support/api-host.ts'

const NOW = Date.UTC(2026, 4, 1, 12)
let host: ApiHost
beforeEach(async () => {
  host = await apiHost(NOW)
})
afterEach(async () => {
  await host[Symbol.asyncDispose]()
})

const probes = async (): Promise<ProbeView[]> =>
  (await host.call('GET', '/api/probes')).body as ProbeView[]

test('a probe added by its name gets an id, then a password that is shown once', async () => {
  const added = await host.call('POST', '/api/probes', { name: 'Kräuter Ost' })
  expect(added).toMatchObject({
    status: 201,
    body: { id: 'krauterost', access: { password: 'none', since: null, overLimit: null } },
  })
  const made = await host.app.inject({ method: 'POST', url: '/api/probes/krauterost/password' })
  expect(made.statusCode).toBe(201)
  expect(made.headers['cache-control']).toBe('no-store')
  const setup = made.json() as ProbeSetup
  expect(setup.password).toMatch(/^[A-Z2-7]{26}$/)
  expect(setup.header.text).toContain(`#define LM1_PROBE_PASSWORD "${setup.password}"`)
  expect(setup.line).toContain(`pw=${setup.password} `)
  expect(host.events).toContainEqual({ event: 'probes', data: {} })

  const view = (await probes())[0]!
  expect(view.access).toMatchObject({ password: 'set', since: NOW })
  // Nowhere else: neither in what the API says of it, nor in the description of the API.
  const all = await Promise.all(
    ['/api/probes', '/api/probes/krauterost', '/api/health', '/api/openapi.json'].map((url) =>
      host.app.inject({ method: 'GET', url }),
    ),
  )
  const [credential] = await host.deps.garden.credentials()
  for (const { body } of all) {
    expect(body).not.toContain(setup.password)
    expect(body).not.toContain(credential!.hash!)
    expect(body).not.toContain('scrypt')
  }
  expect(JSON.stringify(host.events)).not.toContain(setup.password)
  expect(JSON.stringify(credential)).not.toContain(setup.password)
})

test('renewing gives another one, taking away is told, nothing can be read back', async () => {
  await host.call('POST', '/api/probes', { id: 'bed3a' })
  const url = '/api/probes/bed3a/password'
  expect(await host.call('DELETE', url)).toMatchObject({ status: 409 })
  const first = (await host.call('POST', url)).body as ProbeSetup
  host.setTime(NOW + 1000)
  const second = (await host.call('POST', url)).body as ProbeSetup
  expect(second.password).not.toBe(first.password)
  expect(await host.call('GET', url)).toMatchObject({ status: 405 })
  host.setTime(NOW + 2000)
  expect(await host.call('DELETE', url)).toMatchObject({
    status: 200,
    body: { password: 'revoked', since: NOW + 2000 },
  })
  expect((await probes())[0]!.access.password).toBe('revoked')
})

test('a stranger and a probe nobody knows get no password', async () => {
  expect(await host.call('POST', '/api/probes/nobody/password')).toMatchObject({ status: 404 })
  expect(await host.call('DELETE', '/api/probes/nobody/password')).toMatchObject({ status: 404 })
  expect(await host.call('POST', '/api/probes/A%20B/password')).toMatchObject({ status: 400 })
  await host.deps.garden.hear([{ id: 'sill1', at: NOW }], 50)
  expect(await host.call('POST', '/api/probes/sill1/password')).toMatchObject({
    status: 409,
    body: { detail: expect.stringContaining('take') },
  })
  expect(await host.deps.garden.credentials()).toEqual([])
})

test('ids made of names are ids nobody has', () => {
  const taken = new Set(['northbed', 'northbed2', 'probe'])
  expect(freeProbeId('North bed', taken)).toBe('northbed3')
  expect(freeProbeId('', taken)).toBe('probe2')
  expect(freeProbeId('9', taken)).toBe('probe2')
  expect(freeProbeId('1. Beet am Zaun', taken)).toBe('beetamzaun')
  expect(freeProbeId('hub', taken)).toBe('hub2')
  expect(freeProbeId('x'.repeat(60), new Set(['x'.repeat(20)]))).toBe(`${'x'.repeat(20)}2`)
  expect(freeProbeId('Грядка', taken)).toBe('probe2')
})

test('the broker is named as a probe reaches it', () => {
  const own = (): string => '192.168.1.20'
  const here = {
    host: null,
    everyAddress: true,
    port: 1883,
    encrypted: false,
    plainPort: 1883,
    keySha256: () => null,
  }
  expect(brokerFor(here, 'garden.local', own)).toMatchObject({
    host: 'garden.local',
    reach: 'network',
  })
  expect(brokerFor(here, 'localhost', own)).toMatchObject({
    host: '192.168.1.20',
    reach: 'network',
  })
  expect(brokerFor(here, '127.0.0.1', () => null).reach).toBe('this machine')
  // Its own address is that of a container: the broker is not there.
  expect(brokerFor({ ...here, everyAddress: false }, 'localhost', own)).toMatchObject({
    host: 'localhost',
    reach: 'this machine',
  })
  // What a page is called by has brackets, what a board looks up has none.
  expect(brokerFor({ ...here, everyAddress: false }, '[fd00::7]', own)).toMatchObject({
    host: 'fd00::7',
    reach: 'network',
  })
  expect(brokerFor({ ...here, host: '127.0.0.1' }, 'garden.local', own)).toMatchObject({
    host: '127.0.0.1',
    reach: 'this machine',
  })
})

test('over TLS the header tells the key to pin, and the port without, where there is one', () => {
  const { header, line } = probeSetup('bed3a', 'A'.repeat(26), {
    host: 'garden.local',
    port: 8883,
    encrypted: true,
    plainPort: 1883,
    keySha256: 'q'.repeat(43) + '=',
    reach: 'network',
  })
  expect(header.text).toMatch(/LM1_BROKER_PORT 8883\n.*LM1_BROKER_TLS 1\n/)
  expect(header.text).toContain('#define LM1_BROKER_PLAIN_PORT 1883\n')
  expect(header.text).toContain(`#define LM1_BROKER_KEY_SHA256 "${'q'.repeat(43)}="\n`)
  expect(line).toBe(
    `lm1 id=bed3a pw=${'A'.repeat(26)} host=garden.local port=8883 tls=1 pin=${'q'.repeat(43)}=`,
  )
})

test('the header speaks of what firmware needs, and does not get in the way of the encoder', () => {
  const { header, line } = probeSetup('bed3a', 'A'.repeat(26), {
    host: 'broker.local',
    port: 8883,
    encrypted: true,
    plainPort: null,
    keySha256: null,
    reach: 'network',
  })
  expect(header.text).toContain('#define LM1_BROKER_HOST "broker.local"')
  expect(header.text).toContain('#define LM1_BROKER_PORT 8883')
  expect(line).toBe(`lm1 id=bed3a pw=${'A'.repeat(26)} host=broker.local port=8883 tls=1`)
  const encoder = readFileSync('firmware-spec/encoder/lm1.h', 'utf8')
  const names = header.text.matchAll(/^#define (\w+)/gm)
  for (const [, name] of names) expect(encoder).not.toMatch(new RegExp(`\\b${name}\\b`))
})
