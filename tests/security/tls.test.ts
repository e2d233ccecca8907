import { execFile } from 'node:child_process'
import { copyFileSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { request } from 'node:https'
import type { RequestOptions } from 'node:https'
import { connect as connectTcp } from 'node:net'
import { join } from 'node:path'
import { connect as connectTls } from 'node:tls'
import type { ConnectionOptions } from 'node:tls'
import { promisify } from 'node:util'
import mqtt from 'mqtt'
import { pino } from 'pino'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { loadConfig } from '#hub/config/load.ts'
import { openHub, type Hub } from '#hub/hub.ts'
import { makeAsReadme, type TestAuthority } from '#tests/support/certificates.ts'
import { freePort } from '#tests/support/ports.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

const PASSWORD = 'worms like rain'
let dir: ReturnType<typeof tempDir>
let authority: TestAuthority
let ca: Buffer
let hub: Hub
let httpPort: number
let mqttPort: number
let tlsPort: number
let env: Record<string, string>
const said: string[] = []

beforeAll(async () => {
  dir = tempDir()
  authority = makeAsReadme(dir.path)
  ca = readFileSync(authority.ca)
  ;[httpPort, mqttPort, tlsPort] = [await freePort(), await freePort(), await freePort()]
  env = {
    LOAMLINE_DATA_DIR: join(dir.path, 'data'),
    LOAMLINE_HTTP_PORT: String(httpPort),
    LOAMLINE_HTTP_NAMES: 'beds.home.arpa',
    LOAMLINE_HTTP_CERTIFICATE: join(dir.path, 'hub.pem'),
    LOAMLINE_HTTP_KEY: join(dir.path, 'hub.key'),
    LOAMLINE_HTTP_HSTS_DAYS: '30',
    LOAMLINE_MQTT_PORT: String(mqttPort),
    LOAMLINE_MQTT_TLS_PORT: String(tlsPort),
    LOAMLINE_MQTT_CERTIFICATE: join(dir.path, 'hub.pem'),
    LOAMLINE_MQTT_KEY: join(dir.path, 'hub.key'),
    LOAMLINE_ZONE: 'Europe/Lisbon',
  }
  const log = pino({ level: 'debug' }, { write: (line: string) => said.push(line) })
  hub = await openHub(loadConfig(env).config, { log })
})
afterAll(async () => {
  await hub.stop()
  dir[Symbol.dispose]()
})

interface Answer {
  readonly status: number
  readonly headers: Record<string, string | string[] | undefined>
  readonly body: string
}

function ask(path: string, options: RequestOptions = {}, body?: unknown): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const asked = request(
      {
        host: '127.0.0.1',
        servername: 'localhost',
        port: httpPort,
        path,
        ca,
        agent: false,
        ...options,
      },
      (response) => {
        let text = ''
        response.on('data', (chunk: Buffer) => (text += chunk.toString()))
        response.on('end', () =>
          resolve({ status: response.statusCode ?? 0, headers: response.headers, body: text }),
        )
      },
    )
    asked.on('error', reject)
    asked.end(body === undefined ? undefined : JSON.stringify(body))
  })
}

/** What a handshake comes to: the protocol, or the code of the refusal. */
function shake(port: number, options: ConnectionOptions): Promise<string> {
  return new Promise((resolve) => {
    const socket = connectTls({ host: '127.0.0.1', port, ca, ...options }, () => {
      // TLS 1.3 tells the refusal of a client only after its own end of the handshake.
      resolve(socket.getProtocol() ?? '')
      socket.destroy()
    })
    socket.on('error', (error: NodeJS.ErrnoException) => resolve(error.code ?? error.message))
  })
}

describe('with the lines of the README', () => {
  test('pages come by HTTPS, to those who know the authority', async () => {
    expect(hub.url).toBe(`https://127.0.0.1:${httpPort}`)
    const who = await ask('/api/who')
    expect(who).toMatchObject({ status: 200 })
    await expect(ask('/api/who', { ca: undefined })).rejects.toMatchObject({
      code: expect.stringMatching(/SELF_SIGNED|UNABLE/),
    })
    // The authority may not vouch for names of others.
    const other = await authority.issue('other', { subjectAltName: 'DNS:shop.example' })
    await expect(
      promisify(execFile)('openssl', ['verify', '-CAfile', authority.ca, other.cert]),
    ).rejects.toThrow('permitted subtree violation')
    // Names and addresses that homes have, private ones of RFC 1918 and RFC 4193 and names of RFC 6762 among them.
    for (const subjectAltName of [
      'DNS:garden-hub.local',
      'DNS:beds.home.arpa',
      'IP:172.16.4.9',
      'IP:192.168.1.5',
      'IP:fd00::9',
    ]) {
      const { cert } = await authority.issue('home', { subjectAltName })
      await promisify(execFile)('openssl', ['verify', '-CAfile', authority.ca, cert])
    }
  })

  test.each(['TLSv1', 'TLSv1.1'] as const)('%s is refused at both ports', async (version) => {
    const old = {
      minVersion: version,
      maxVersion: version,
      // Otherwise this end would refuse first.
      ciphers: 'ALL:@SECLEVEL=0',
    } as const
    for (const port of [httpPort, tlsPort])
      expect(await shake(port, old)).toMatch(/PROTOCOL_VERSION|ECONNRESET/)
  })

  test.each(['TLSv1.2', 'TLSv1.3'] as const)('%s is spoken at both ports', async (version) => {
    for (const port of [httpPort, tlsPort])
      expect(await shake(port, { minVersion: version, maxVersion: version })).toBe(version)
  })

  test('small boards may ask for small fragments and resume a session', async () => {
    const session = join(dir.path, 'session')
    const common = [
      's_client',
      '-connect',
      `127.0.0.1:${tlsPort}`,
      '-CAfile',
      authority.ca,
      '-tls1_2',
    ]
    const first = await promisify(execFile)('bash', [
      '-c',
      `openssl ${common.join(' ')} -maxfraglen 512 -sess_out ${session} -verify_return_error </dev/null`,
    ])
    expect(first.stdout).toContain('Verify return code: 0 (ok)')
    const again = await promisify(execFile)('bash', [
      '-c',
      `openssl ${common.join(' ')} -maxfraglen 512 -sess_in ${session} </dev/null`,
    ])
    expect(again.stdout).toMatch(/^Reused, TLSv1\.2/m)
  })

  test('plain HTTP gets no answer at the port of HTTPS', async () => {
    const answer = await new Promise<string>((resolve) => {
      const socket = connectTcp(httpPort, '127.0.0.1', () =>
        socket.write('GET /api/who HTTP/1.1\r\nhost: localhost\r\n\r\n'),
      )
      let text = ''
      socket.on('data', (chunk: Buffer) => (text += chunk.toString()))
      socket.on('close', () => resolve(text))
      socket.on('error', () => {})
    })
    expect(answer).not.toContain('HTTP/1.1 200')
  })

  test('a browser is asked to keep to HTTPS under the name of the hub, never under an address', async () => {
    const under = async (host: string): Promise<unknown> =>
      (await ask('/api/who', { headers: { host } })).headers['strict-transport-security']
    expect(await under(`beds.home.arpa:${httpPort}`)).toBe(`max-age=${30 * 86_400}`)
    expect(await under(`127.0.0.1:${httpPort}`)).toBeUndefined()
    expect(await under(`localhost:${httpPort}`)).toBeUndefined()
    const stranger = await ask('/api/who', { headers: { host: 'rebound.example' } })
    expect(stranger.status).toBe(421)
  })

  test('a probe sends its readings over TLS; beside it the plain port is open too', async () => {
    expect(hub.encryptedBrokerAddress).toBe(`mqtts://127.0.0.1:${tlsPort}`)
    const probe = await mqtt.connectAsync(hub.encryptedBrokerAddress!, {
      clientId: 'fern1',
      ca,
      reconnectPeriod: 0,
    })
    for (let n = 0; n < 20; n++) {
      const reading = `{"b":1,"n":${n},"u":${n * 60 + 3},"v":{"ph":6.42}}`
      await probe.publishAsync('lm1/fern1/up/r', reading, { qos: 1 })
    }
    await probe.endAsync()
    await until('all are there', async () => (await hub.readings.counts()).readings === 20)
    const plain = await mqtt.connectAsync(hub.brokerAddress, { clientId: 'fern1' })
    await plain.endAsync()
    await expect(
      mqtt.connectAsync(hub.encryptedBrokerAddress!, { clientId: 'fern1', reconnectPeriod: 0 }),
    ).rejects.toThrow(/self-signed|unable/)
  })

  test('a packet that is too large ends an encrypted connection as it does a plain one', async () => {
    const probe = await mqtt.connectAsync(hub.encryptedBrokerAddress!, {
      clientId: 'fern2',
      ca,
      reconnectPeriod: 0,
    })
    probe.on('error', () => {})
    const gone = new Promise<void>((resolve) => probe.once('close', () => resolve()))
    probe.publish('lm1/fern2/up/r', 'x'.repeat(5000))
    await gone
  })

  test('why somebody did not get in at the encrypted port stands in the log', async () => {
    const socket = connectTcp(tlsPort, '127.0.0.1', () => socket.write('GET / HTTP/1.1\r\n\r\n'))
    socket.on('error', () => {})
    await until('it is told', () => said.some((line) => line.includes('it spoke unencrypted HTTP')))
    // Unlike Node's, this client tells the hub why it goes.
    const other = join(dir.path, 'other')
    mkdirSync(other)
    makeAsReadme(other)
    const strict = ['-verify_return_error', '-CAfile', join(other, 'ca.pem')]
    const client = ['s_client', '-connect', `127.0.0.1:${tlsPort}`, ...strict]
    await expect(promisify(execFile)('openssl', client)).rejects.toThrow()
    await until('it is told', () =>
      said.some((line) => line.includes('it does not trust the certificate of the hub')),
    )
  })

  test('the page of a new probe tells the encrypted port and the key to pin', async () => {
    const json = { 'content-type': 'application/json' }
    const send = (path: string, body?: unknown): Promise<Answer> =>
      ask(path, { method: 'POST', headers: body === undefined ? {} : json }, body)
    expect((await send('/api/probes', { id: 'fern3' })).status).toBe(201)
    const setup = JSON.parse((await send('/api/probes/fern3/password')).body) as {
      broker: { port: number; encrypted: boolean; plainPort: number; keySha256: string }
    }
    expect(setup.broker).toMatchObject({ port: tlsPort, encrypted: true, plainPort: mqttPort })
    // Worked out by another program (RFC 7469, appendix A).
    const theirs = await promisify(execFile)('bash', [
      '-c',
      `openssl x509 -in ${join(dir.path, 'hub.pem')} -noout -pubkey | openssl pkey -pubin -outform der | openssl dgst -sha256 -binary | openssl base64`,
    ])
    expect(setup.broker.keySha256).toBe(theirs.stdout.trim())
  })

  test(
    'commands at this machine find the hub, whatever name its certificate is for',
    { timeout: 60_000 },
    async () => {
      const run = (args: string[]): Promise<{ stdout: string; stderr: string }> =>
        promisify(execFile)(process.execPath, ['hub/cli/loamline.mjs', ...args], {
          env: { ...process.env, ...env },
        })
      const made = await run(['owner', '--name', 'Ash', '--make'])
      const password = /^Password: (\S+)$/m.exec(made.stdout)?.[1]
      const { stdout } = await run(['export', '--probe', 'fern1'])
      expect(stdout.trim().split('\n').length).toBeGreaterThan(20)
      const headers = { 'content-type': 'application/json', host: `beds.home.arpa:${httpPort}` }
      const signIn = await ask(
        '/api/sign-in',
        { method: 'POST', headers },
        { name: 'Ash', password },
      )
      expect(signIn.status).toBe(204)
      const [cookie] = signIn.headers['set-cookie'] as string[]
      expect(cookie).toMatch(/; HttpOnly; SameSite=Lax; Secure$/)
      // Another certificate at that port is not the hub: nothing is sent to it.
      const forged = await authority.issue('forged', { subjectAltName: 'DNS:elsewhere.home.arpa' })
      const elsewhere = {
        ...env,
        LOAMLINE_HTTP_CERTIFICATE: forged.cert,
        LOAMLINE_HTTP_KEY: forged.key,
      }
      const tried = promisify(execFile)(
        process.execPath,
        ['hub/cli/loamline.mjs', 'export', '--probe', 'fern1'],
        { env: { ...process.env, ...elsewhere } },
      )
      await expect(tried).rejects.toMatchObject({
        code: 2,
        stderr: expect.stringContaining('cannot be reached'),
      })
    },
  )

  test('simulated probes come in over TLS too, and only where they know the authority', async () => {
    const run = (more: readonly string[]): Promise<{ stdout: string; stderr: string }> =>
      promisify(execFile)(
        process.execPath,
        [
          ...['hub/cli/loamline.mjs', 'probes', '--broker', hub.encryptedBrokerAddress!],
          ...['--count', '1', '--prefix', 'enc', '--every', '1s', '--for', '3s', ...more],
        ],
        { env: { ...process.env, ...env } },
      )
    const [trusting, blind] = await Promise.all([
      run(['--ca', authority.ca]),
      run(['--prefix', 'blind']),
    ])
    expect(trusting.stderr).toBe('')
    expect((await hub.garden.probes()).map(({ id }) => id)).toContain('enc1')
    expect(blind.stderr).toMatch(/blind1: .*(self-signed|unable to verify)/)
    expect((await hub.garden.probes()).map(({ id }) => id)).not.toContain('blind1')
  })

  test('nobody sees the key: not in the log, not in the settings', () => {
    const key = readFileSync(join(dir.path, 'hub.key'), 'utf8').split('\n')[1]!
    expect(said.join('')).not.toContain(key)
    expect(said.join('')).not.toContain(PASSWORD)
  })
})

test('a renewed certificate is taken over while connections go on; half a pair is not', async () => {
  using folder = tempDir()
  const first = await authority.issue('first')
  const second = await authority.issue('second')
  const file = { cert: join(folder.path, 'c.pem'), key: join(folder.path, 'k.pem') }
  copyFileSync(first.cert, file.cert)
  copyFileSync(first.key, file.key)
  const { watchCertificate } = await import('#hub/certificates/watch-certificate.ts')
  const { openEmbeddedBroker } = await import('#hub/ingest/embedded-broker.ts')
  const { createIngest } = await import('#hub/ingest/ingest.ts')
  const { memoryGarden, memoryReadings } = await import('#tests/support/memory-stores.ts')
  const lines: string[] = []
  const log = { warn: (m: string) => lines.push(m), info: (m: string) => lines.push(m) }
  const certificate = watchCertificate({
    files: {
      certificate: { file: file.cert, setting: 'LOAMLINE_MQTT_CERTIFICATE' },
      key: { file: file.key, setting: 'LOAMLINE_MQTT_KEY' },
    },
    clock: Date.now,
    log,
    lookEveryMs: 20,
  })
  const store = memoryReadings()
  const garden = memoryGarden().port
  const ingest = createIngest({ readings: store.port, garden, clock: Date.now, log })
  const front = await openEmbeddedBroker({
    host: '127.0.0.1',
    port: 0,
    plain: 'no',
    encrypted: { port: 0, certificate },
    ingest,
    clock: Date.now,
    log,
  })
  try {
    expect(front.address).toMatch(/^mqtts:/)
    const { port } = new URL(front.address)
    const shown = (): Promise<string> =>
      new Promise((resolve, reject) => {
        const socket = connectTls({ host: '127.0.0.1', port: Number(port), ca }, () => {
          resolve(String(socket.getPeerCertificate().subject.CN))
          socket.destroy()
        })
        socket.on('error', reject)
      })
    const before = await mqtt.connectAsync(front.address, { clientId: 'fern1', ca })
    expect(await shown()).toBe('first')
    copyFileSync(second.cert, file.cert)
    await until('half a pair is told', () => lines.find((line) => line.includes('going on with')))
    expect(lines.join('\n')).toMatch(/LOAMLINE_MQTT_KEY: expected the key of .*c\.pem/)
    expect(await shown()).toBe('first')
    copyFileSync(second.key, file.key)
    await until('it is taken over', () => lines.some((line) => line.includes('was renewed')))
    expect(await shown()).toBe('second')
    writeFileSync(file.cert, 'nothing of the kind')
    await until('it is told', () =>
      lines.some((line) => line.includes('expected a certificate in PEM')),
    )
    expect(await shown()).toBe('second')
    await before.publishAsync('lm1/fern1/up/r', '{"b":1,"n":0,"u":3,"v":{"ph":6.4}}', { qos: 1 })
    expect(store.readings.size).toBe(1)
    await before.endAsync()
  } finally {
    await front.stop()
    certificate.stop()
  }
})

test.each([
  [{ LOAMLINE_HTTP_CERTIFICATE: 'hub.pem' }, /LOAMLINE_HTTP_KEY: expected a file/],
  [{ LOAMLINE_MQTT_KEY: 'hub.key' }, /LOAMLINE_MQTT_CERTIFICATE: expected a file/],
  [{ LOAMLINE_MQTT_PLAIN: 'no' }, /LOAMLINE_MQTT_PLAIN: .* no probe could come in/],
  [
    { LOAMLINE_HTTP_CERTIFICATE: 'none.pem', LOAMLINE_HTTP_KEY: 'hub.key' },
    /LOAMLINE_HTTP_CERTIFICATE: expected a readable file/,
  ],
  [
    { LOAMLINE_HTTP_CERTIFICATE: 'hub.key', LOAMLINE_HTTP_KEY: 'hub.key' },
    /LOAMLINE_HTTP_CERTIFICATE: expected a certificate in PEM/,
  ],
  [
    { LOAMLINE_HTTP_CERTIFICATE: 'hub.pem', LOAMLINE_HTTP_KEY: 'ca.key' },
    /LOAMLINE_HTTP_KEY: expected the key of .*hub\.pem, got that of another certificate/,
  ],
  [
    { LOAMLINE_HTTP_CERTIFICATE: 'hub.pem', LOAMLINE_HTTP_KEY: 'locked.key' },
    /LOAMLINE_HTTP_KEY: expected a private key in PEM without a passphrase, got one that is locked/,
  ],
  [
    { LOAMLINE_BROKER_URL: 'mqtts://127.0.0.1:1', LOAMLINE_BROKER_CA: 'hub.key' },
    /LOAMLINE_BROKER_CA: expected a file with certificates/,
  ],
  [
    { LOAMLINE_BROKER_URL: 'mqtt://127.0.0.1:1', LOAMLINE_BROKER_CA: 'ca.pem' },
    /LOAMLINE_BROKER_CA: expected a LOAMLINE_BROKER_URL of mqtts/,
  ],
])('settings that cannot be meant end the start: %j', async (settings, message) => {
  await promisify(execFile)('openssl', [
    ...['pkcs8', '-topk8', '-in', join(dir.path, 'hub.key'), '-out', join(dir.path, 'locked.key')],
    ...['-passout', 'pass:compost'],
  ])
  const files = Object.fromEntries(
    Object.entries(settings).map(([name, value]) => [
      name,
      /\.(pem|key)$/.test(value) ? join(dir.path, value) : value,
    ]),
  )
  const config = loadConfig({
    LOAMLINE_DATA_DIR: join(dir.path, 'never'),
    LOAMLINE_HTTP_PORT: String(await freePort()),
    ...files,
  }).config
  await expect(openHub(config, { log: pino({ level: 'silent' }) })).rejects.toMatchObject({
    code: 'HUB_CONFIG',
    message: expect.stringMatching(message),
  })
})
