import { execFile } from 'node:child_process'
import {
  chmodSync,
  chownSync,
  copyFileSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  rmSync,
} from 'node:fs'
import { join } from 'node:path'
import { promisify } from 'node:util'
import { parse } from 'csv-parse/sync'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { ProbeSetup } from '#hub/api/schemas/access.ts'
import { makeAsReadme, type TestAuthority } from '../support/certificates.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { commandLineProbe, wayIn, type CommandLineProbe, type Way } from './command-line-probe.ts'
import { openStack, STACK_SERVICES, type Stack, type StackService } from './stack.ts'

const run = promisify(execFile)
const OWNER = { name: 'Gardener', password: 'worms like the rain' }
const PROBE = 'fern1'
const KEPT_BACKUP = '/data/kept'

let stack: Stack
let probe: CommandLineProbe
let cookie: string
let passwordOfProbe: string
let certificates: ReturnType<typeof tempDir>
let authority: TestAuthority
beforeAll(async () => {
  certificates = tempDir()
  authority = makeAsReadme(certificates.path)
  stack = await openStack()
  await stack.up()
  for (const service of STACK_SERVICES) await stack.healthy(service)
})
afterAll(async () => {
  await stack.down()
  certificates[Symbol.dispose]()
})

/** The API as the owner's browser uses it. */
function ask(path: string, init: RequestInit = {}): Promise<Response> {
  return fetch(stack.url + path, {
    ...init,
    headers: {
      cookie,
      origin: stack.url,
      ...(init.body === undefined ? {} : { 'content-type': 'application/json' }),
    },
  })
}

/** Values of the probe as the hub tells them. */
async function inHub(): Promise<readonly number[]> {
  const response = await ask(`/api/export/readings.csv?probe=${PROBE}`)
  const text = await response.text()
  expect(response.status, text).toBe(200)
  const [heads = [], ...rows] = parse(text, { bom: true })
  const column = heads.findIndex((head) => /^m1\b/.test(head))
  expect(column, text).toBeGreaterThanOrEqual(0)
  return rows.map((row) => Number(row[column]))
}

/** Readings of the probe as InfluxDB holds them. */
async function inInfluxdb(): Promise<readonly { n: number; value: number }[]> {
  const { influxUser, influxPassword } = JSON.parse(
    await stack.exec('hub', 'cat', '/secrets/hub.json'),
  ) as { influxUser: string; influxPassword: string }
  const { Id } = await stack.inspect('influxdb')
  const account = ['-username', influxUser, '-password', influxPassword, '-database', 'loamline']
  const question = `SELECT "_seq", "m1" FROM "reading" WHERE "probe" = '${PROBE}'`
  const { stdout } = await run('docker', [
    ...['exec', '-e', 'HOME=/tmp', Id, 'influx', ...account, '-format', 'json'],
    ...['-execute', question],
  ])
  const { results } = JSON.parse(stdout) as {
    results: { series?: { values: [number, number, number][] }[] }[]
  }
  const rows = results[0]?.series?.[0]?.values ?? []
  return rows.map(([, n, value]) => ({ n, value }))
}

/** Everything the probe took is in the hub and in InfluxDB, once. */
async function nothingLostNothingTwice(): Promise<void> {
  await until(
    'the probe has every reading acknowledged',
    async () => (await probe.catchUp()) === 0,
    60_000,
  )
  const taken = probe.taken.map(({ value }) => value)
  expect((await inHub()).toSorted((a, b) => a - b)).toEqual(taken)
  const forwarded = async (): Promise<number[]> =>
    (await inInfluxdb()).map(({ value }) => value).toSorted((a, b) => a - b)
  await until(
    'InfluxDB has them all',
    async () => (await forwarded()).length >= taken.length,
    60_000,
  )
  expect(await forwarded()).toEqual(taken)
}

test('the file is valid and holds no secret', async () => {
  await stack.compose('config', '-q')
  const text = readFileSync('docker-compose.yml', 'utf8')
  // What is handed on from the environment, with nothing where that has nothing, is none of the file's.
  const ownWords = text.replaceAll(/\$\{\w+:-\}/g, '')
  expect(ownWords).not.toMatch(/^[ \t]*\w*(PASSWORD|TOKEN|SECRET|KEY)\w*[ \t]*[:=][ \t]*\S/im)
  const kept = await stack.exec('hub', 'sh', '-c', 'cat /secrets/*.json')
  const secrets = kept.match(/[A-Z2-7]{26}/g) ?? []
  expect(new Set(secrets).size).toBe(4)
  for (const service of STACK_SERVICES) {
    const told = JSON.stringify(await stack.inspect(service)) + (await stack.log(service))
    expect(secrets.filter((secret) => told.includes(secret))).toEqual([])
  }
})

test.each([
  ['hub', '/srv/loamline/hub/cli/planted'],
  ['broker', '/mosquitto/config/planted'],
] as const)(
  '%s runs as nobody in particular and can change none of its programs',
  async (service, path) => {
    const { Config, HostConfig } = await stack.inspect(service)
    expect(Config.User).toBe('1883:1883')
    expect(HostConfig).toMatchObject({ ReadonlyRootfs: true, Privileged: false })
    expect(HostConfig.CapAdd ?? []).toEqual([])
    const status = await stack.exec(service, 'cat', '/proc/1/status')
    expect(status).toMatch(/^Uid:\s+1883\s+1883\s+1883\s+1883$/m)
    expect(status).toMatch(/^CapEff:\s+0+$/m)
    expect(status).toMatch(/^CapBnd:\s+0+$/m)
    expect(status).toMatch(/^NoNewPrivs:\s+1$/m)
    await expect(stack.exec(service, 'touch', path)).rejects.toThrow(/read-only file system/i)
  },
)

test('InfluxDB has a root it cannot write to, few rights, and no port to the outside', async () => {
  const { HostConfig } = await stack.inspect('influxdb')
  expect(HostConfig.ReadonlyRootfs).toBe(true)
  expect(HostConfig.PortBindings ?? {}).toEqual({})
  expect(HostConfig.CapDrop).toEqual(['ALL'])
  expect(await stack.exec('influxdb', 'cat', '/proc/1/status')).toMatch(/^NoNewPrivs:\s+1$/m)
  await expect(stack.exec('influxdb', 'touch', '/planted')).rejects.toThrow(/read-only/i)
})

test('what is published is published to this machine alone', async () => {
  for (const service of ['hub', 'broker'] as const) {
    const bindings = Object.values((await stack.inspect(service)).HostConfig.PortBindings ?? {})
    const ports = service === 'hub' ? 1 : 2
    expect(bindings.flat().map(({ HostIp }) => HostIp)).toEqual(Array(ports).fill('127.0.0.1'))
  }
  // By which the hub comes in, without encryption.
  const broker = await stack.inspect('broker')
  expect(Object.keys(broker.HostConfig.PortBindings ?? {})).not.toContain('1884/tcp')
})

test('the code in the log makes the owner; a probe gets a password and is let in with it alone', async () => {
  const code = (await stack.log('hub')).match(/code[^A-Z0-9]+([A-Z0-9]{4}(?:-[A-Z0-9]{4})+)/i)?.[1]
  expect(code, await stack.log('hub')).toBeDefined()
  const owner = await fetch(`${stack.url}/api/owner`, {
    method: 'POST',
    headers: { 'content-type': 'application/json', origin: stack.url },
    body: JSON.stringify({ ...OWNER, code }),
  })
  expect(owner.status, await owner.text()).toBe(204)
  cookie = owner.headers.getSetCookie()[0]!.split(';')[0]!

  const knock = (...account: string[]): Promise<unknown> =>
    run('mosquitto_pub', [
      ...['-h', '127.0.0.1', '-p', String(stack.mqttPort), '-q', '1', ...account],
      ...['-t', `lm1/${PROBE}/up/state`, '-m', '{"s":"on","b":1,"u":0}'],
    ])
  await expect(knock()).rejects.toThrow(/not authori[sz]ed/i)
  await expect(knock('-u', PROBE, '-P', 'a guess')).rejects.toThrow(/not authori[sz]ed/i)

  const added = await ask('/api/probes', {
    method: 'POST',
    body: JSON.stringify({ id: PROBE, name: 'Fern' }),
  })
  expect(added.status, await added.text()).toBe(201)
  const made = await ask(`/api/probes/${PROBE}/password`, { method: 'POST' })
  const text = await made.text()
  expect(made.status, text).toBe(201)
  const { password, broker } = JSON.parse(text) as Pick<ProbeSetup, 'password' | 'broker'>
  // Not by the name and the port that services have for each other.
  expect(broker).toMatchObject({ host: '127.0.0.1', port: stack.mqttPort, encrypted: false })
  passwordOfProbe = password
  await until(
    'the broker has read its new password',
    () =>
      knock('-i', PROBE, '-u', PROBE, '-P', password).then(
        () => true,
        () => false,
      ),
    20_000,
  )
  probe = commandLineProbe({ id: PROBE, password, way: { port: stack.mqttPort } })

  const { reader } = JSON.parse(await stack.exec('hub', 'cat', '/secrets/passwords.json')) as {
    reader: string
  }
  const { stdout } = await run('mosquitto_sub', [
    ...['-h', '127.0.0.1', '-p', String(stack.mqttPort), '-i', 'hub-reader', '-u', 'hub-reader'],
    ...['-P', reader, '-t', 'lm1/hub/state', '-C', '1', '-W', '20'],
  ])
  expect(JSON.parse(stdout)).toBeTypeOf('object')
})

test('readings come in by mosquitto_pub, and out of the hub and of InfluxDB', async () => {
  for (let i = 0; i < 5; i++) await probe.measure()
  await nothingLostNothingTwice()
})

test.each(STACK_SERVICES)(
  '%s is killed while the probe sends: it comes back by itself, nothing lost, nothing twice',
  async (service: StackService) => {
    const send = async (): Promise<void> => {
      for (let i = 0; i < 20; i++) await probe.measure()
    }
    await Promise.all([send(), stack.crash(service)])
    for (const one of STACK_SERVICES) await stack.healthy(one)
    await probe.measure()
    await nothingLostNothingTwice()
  },
)

test('a backup is made while the hub runs, and comes out of the volume', async () => {
  using folder = tempDir()
  const { Id } = await stack.inspect('hub')
  // Again on the same day as well.
  for (const round of [1, 2]) {
    const place = '/data/backup-2026-11-02'
    await stack.exec('hub', 'node', 'hub/cli/loamline.mjs', 'backup', '--to', place)
    await run('docker', ['cp', `${Id}:${place}`, join(folder.path, 'taken')])
    expect(readdirSync(join(folder.path, 'taken'), { recursive: true })).toEqual(
      expect.arrayContaining([
        expect.stringMatching(/backup\.json$/),
        expect.stringMatching(/garden\.db$/),
      ]),
    )
    rmSync(join(folder.path, 'taken'), { recursive: true })
    if (round === 1) await stack.exec('hub', 'rm', '-r', place)
    else await stack.exec('hub', 'mv', place, KEPT_BACKUP)
  }
})

test('a backup is put back while the hub is stopped', async () => {
  const command = ['node', 'hub/cli/loamline.mjs', 'restore', '--from', KEPT_BACKUP, '--replace']
  await stack.compose('stop', 'hub')
  await stack.compose('run', '--rm', '--no-deps', '-T', 'hub', ...command)
  await stack.compose('start', 'hub')
  await stack.healthy('hub')
  expect((await stack.exec('hub', 'ls', '/data')).match(/^before-restore-/gm)).toHaveLength(1)
  await probe.measure()
  await nothingLostNothingTwice()
})

test('the whole stack stopped and started again has everything, and the same passwords', async () => {
  const before = await stack.exec('hub', 'cat', '/secrets/hub.json')
  await stack.compose('down', '-t', '20')
  await stack.up()
  for (const one of STACK_SERVICES) await stack.healthy(one)
  expect(await stack.exec('hub', 'cat', '/secrets/hub.json')).toBe(before)
  await probe.measure()
  await nothingLostNothingTwice()
})

/** Containers are made anew, and the hub may wait half a minute before it tries the broker again. */
const LONG = { timeout: 240_000 }

/** Lays a certificate of the authority where the stack looks for it, as the README says. */
async function layCertificate(name: string): Promise<void> {
  const made = await authority.issue(name)
  for (const [from, to] of [
    [made.key, join(certificates.path, 'stack', 'hub.key')],
    [made.cert, join(certificates.path, 'stack', 'hub.pem')],
  ] as const) {
    copyFileSync(from, to)
    if (process.getuid?.() === 0) chownSync(to, 1883, 1883)
    else chmodSync(to, 0o644)
  }
}

/** Tries to send something as the probe; what the broker, or TLS, said against it. */
async function knock(way: Way, password: string, topic = `lm1/${PROBE}/up/state`): Promise<string> {
  const account = ['-i', PROBE, '-u', PROBE, '-P', password]
  const message = ['-q', '1', '-t', topic, '-m', '{"s":"on","b":1,"u":0}']
  try {
    await run('timeout', ['10', 'mosquitto_pub', ...wayIn(way), ...account, ...message])
    return 'let in'
  } catch (error) {
    return (error as { stderr: string }).stderr
  }
}

/** What the broker shows of itself, in the words of another program. */
async function shown(): Promise<string> {
  const place = ['-connect', `127.0.0.1:${stack.mqttTlsPort}`, '-CAfile', authority.ca]
  const { stdout } = await run('bash', [
    '-c',
    `openssl s_client ${place.join(' ')} </dev/null 2>&1 || true`,
  ])
  return stdout
}

/** What somebody is told who makes a password for a new probe. */
async function setupOf(id: string): Promise<ProbeSetup> {
  await ask('/api/probes', { method: 'POST', body: JSON.stringify({ id, name: id }) })
  const made = await ask(`/api/probes/${id}/password`, { method: 'POST' })
  expect(made.status).toBe(201)
  return (await made.json()) as ProbeSetup
}

async function changed(settings: Readonly<Record<string, string>>): Promise<void> {
  stack.set(settings)
  await stack.up()
  for (const one of STACK_SERVICES) await stack.healthy(one)
}

test('without a certificate there is the plain way in alone', async () => {
  expect(await knock({ port: stack.mqttTlsPort }, passwordOfProbe)).not.toBe('let in')
  expect(await shown()).not.toContain('BEGIN CERTIFICATE')
  expect((await setupOf('moss1')).broker).toMatchObject({
    port: stack.mqttPort,
    encrypted: false,
    plainPort: stack.mqttPort,
    keySha256: null,
  })
})

test('with one, probes come in by TLS under the passwords and rights they have', LONG, async () => {
  mkdirSync(join(certificates.path, 'stack'))
  await layCertificate('first')
  await changed({
    CERTIFICATES: join(certificates.path, 'stack'),
    LOAMLINE_MQTT_CERTIFICATE: '/certificates/hub.pem',
    LOAMLINE_MQTT_KEY: '/certificates/hub.key',
  })
  const encrypted = { port: stack.mqttTlsPort, ca: authority.ca }
  expect(await shown()).toMatch(/subject=CN = first[\s\S]*Verify return code: 0 \(ok\)/)
  expect(await knock(encrypted, passwordOfProbe)).toBe('let in')
  expect(await knock({ port: stack.mqttPort }, passwordOfProbe)).toBe('let in')
  expect(await knock(encrypted, 'a guess')).toMatch(/not authori[sz]ed/i)
  expect(await knock({ port: stack.mqttTlsPort }, passwordOfProbe)).not.toBe('let in')
  const stranger = makeAsReadme(mkdirSync(join(certificates.path, 'other'), { recursive: true })!)
  expect(await knock({ ...encrypted, ca: stranger.ca }, passwordOfProbe)).toMatch(
    /TLS error|certificate/i,
  )

  const { broker } = await setupOf('moss2')
  const theirs = await run('bash', [
    '-c',
    `openssl x509 -in ${join(certificates.path, 'first.pem')} -noout -pubkey | openssl pkey -pubin -outform der | openssl dgst -sha256 -binary | openssl base64`,
  ])
  expect(broker).toMatchObject({
    host: '127.0.0.1',
    port: stack.mqttTlsPort,
    encrypted: true,
    plainPort: stack.mqttPort,
    keySha256: theirs.stdout.trim(),
  })

  // It writes below its own name and reads its own, here too. MQTT 3.1.1 has no way to refuse a message.
  expect(await knock(encrypted, passwordOfProbe, 'lm1/moss2/up/state')).toBe('let in')
  probe.comeBy(encrypted)
  for (let i = 0; i < 3; i++) await probe.measure()
  await nothingLostNothingTwice()
  const probes = (await (await ask('/api/probes')).json()) as { id: string; state: string }[]
  expect(probes.find(({ id }) => id === 'moss2')).toMatchObject({ state: 'unknown' })
  expect(probes.find(({ id }) => id === PROBE)).toMatchObject({ state: 'on' })
  const read = (topic: string): Promise<string> =>
    run('mosquitto_sub', [
      ...[...wayIn(encrypted), '-i', PROBE, '-u', PROBE, '-P', passwordOfProbe],
      ...['-t', topic, '-C', '1', '-W', '5'],
    ]).then(
      ({ stdout }) => stdout,
      () => 'nothing',
    )
  const retained = [...wayIn(encrypted), '-i', PROBE, '-u', PROBE, '-P', passwordOfProbe]
  const state = ['-q', '1', '-r', '-t', `lm1/${PROBE}/up/state`, '-m', '{"s":"on","b":1,"u":9}']
  await run('mosquitto_pub', [...retained, ...state])
  expect(await read(`lm1/${PROBE}/dn/ack`)).toMatch(/"n":/)
  expect(await read('lm1/+/up/#')).toBe('nothing')
})

test('a renewed certificate is shown without a restart', LONG, async () => {
  const before = (await stack.inspect('broker')).State.StartedAt
  await layCertificate('second')
  await until('it is shown', async () => /subject=CN = second/.test(await shown()), 100_000)
  expect((await stack.inspect('broker')).State.StartedAt).toBe(before)
  await probe.measure()
  await nothingLostNothingTwice()
})

test('the plain way in can be closed', LONG, async () => {
  await changed({ LOAMLINE_MQTT_PLAIN: 'no' })
  expect(await knock({ port: stack.mqttPort }, passwordOfProbe)).not.toBe('let in')
  for (let i = 0; i < 3; i++) await probe.measure()
  await nothingLostNothingTwice()
  expect((await setupOf('moss3')).broker).toMatchObject({
    port: stack.mqttTlsPort,
    encrypted: true,
    plainPort: null,
  })
})

test('and opened again, for boards that cannot do TLS', LONG, async () => {
  await changed({
    LOAMLINE_MQTT_PLAIN: '',
    LOAMLINE_MQTT_CERTIFICATE: '',
    LOAMLINE_MQTT_KEY: '',
  })
  probe.comeBy({ port: stack.mqttPort })
  await probe.measure()
  await nothingLostNothingTwice()
  expect(await shown()).not.toContain('BEGIN CERTIFICATE')
})
