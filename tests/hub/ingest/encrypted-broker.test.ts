import { fork } from 'node:child_process'
import { once } from 'node:events'
import { copyFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { openExternalBroker } from '#hub/ingest/external-broker.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { startBroker } from '#tests/support/broker.ts'
import type { TestBroker } from '#tests/support/broker.ts'
import { makeAsReadme, type TestAuthority } from '#tests/support/certificates.ts'
import type { HostNews } from '#tests/support/intake-host.ts'
import { memoryGarden, memoryReadings } from '#tests/support/memory-stores.ts'
import { freePort } from '#tests/support/ports.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { TEST_CERTIFICATE, TEST_KEY } from '#tests/support/test-certificate.ts'
import { until } from '#tests/support/until.ts'

let folder: ReturnType<typeof tempDir>
let broker: TestBroker
let certificate: string
let encryptedPort: number

beforeEach(async () => {
  folder = tempDir()
  certificate = join(folder.path, 'certificate.pem')
  writeFileSync(certificate, TEST_CERTIFICATE)
  writeFileSync(join(folder.path, 'key.pem'), TEST_KEY)
  encryptedPort = await freePort()
  broker = await startBroker({
    config: [
      `listener ${encryptedPort} 127.0.0.1`,
      `certfile ${certificate}`,
      `keyfile ${join(folder.path, 'key.pem')}`,
    ],
  })
})
afterEach(async () => {
  await broker.close()
  folder[Symbol.dispose]()
})

/** A hub at the encrypted port; resolves to what it says once it is up or has a problem. */
async function tryAt(options: { readonly url?: string; readonly caFile?: string }) {
  const log = { warn: () => {}, info: () => {} }
  const store = memoryReadings()
  const ingest = createIngest({
    readings: store.port,
    garden: memoryGarden().port,
    clock: Date.now,
    log,
  })
  const front = await openExternalBroker({
    url: `mqtts://127.0.0.1:${encryptedPort}`,
    ingest,
    clock: Date.now,
    log,
    ...options,
  })
  return { front, store, [Symbol.asyncDispose]: () => front.stop() }
}

describe('with a file that says whom to trust', () => {
  let authority: TestAuthority
  /** Another broker, which shows a certificate of that authority. */
  async function brokerWith(pair: { readonly cert: string; readonly key: string }) {
    const port = await freePort()
    const other = await startBroker({
      config: [`listener ${port} 127.0.0.1`, `certfile ${pair.cert}`, `keyfile ${pair.key}`],
    })
    return { port, plainPort: other.port, [Symbol.asyncDispose]: () => other.close() }
  }
  beforeEach(() => {
    authority = makeAsReadme(folder.path)
  })

  test('the hub takes readings, at MQTT 5, without anything being set for the process', async () => {
    await using other = await brokerWith(await authority.issue('broker'))
    const url = `mqtts://localhost:${other.port}`
    await using hub = await tryAt({ url, caFile: authority.ca })
    await until('the hub is up', () => hub.front.state().state === 'up')
    expect(hub.front.encryptedAddress).toBe(url)
    const probe = await mqtt.connectAsync(`mqtt://127.0.0.1:${other.plainPort}`)
    await probe.publishAsync('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"v":{"m1":1}}', { qos: 1 })
    await until('committed', () => hub.store.readings.size === 1)
    await probe.endAsync()
  })

  test.each([
    [
      'the authority of somebody else',
      {},
      /none in the file of LOAMLINE_BROKER_CA vouches for its/,
    ],
    [
      'a name it is not for',
      { subjectAltName: 'DNS:shed.home.arpa' },
      /is for another name: .*shed/,
    ],
    ['one that has ended', { days: -1 }, /its certificate has expired$/],
  ])('%s is told in words, and nothing is said to that broker', async (name, options, words) => {
    const pair = await authority.issue('wrong', options)
    await using other = await brokerWith(pair)
    const caFile = name.startsWith('the authority') ? certificate : authority.ca
    await using hub = await tryAt({ url: `mqtts://localhost:${other.port}`, caFile })
    await until('the problem', () => hub.front.state().problem)
    expect(hub.front.state()).toMatchObject({
      state: 'down',
      problem: expect.stringMatching(words),
    })
  })

  test('a port without TLS is told as that', async () => {
    await using hub = await tryAt({
      url: `mqtts://127.0.0.1:${broker.port}`,
      caFile: authority.ca,
    })
    await until('the problem', () => hub.front.state().problem)
    expect(hub.front.state().problem).toMatch(/TLS at that port/)
  })

  test('a file that is put right holds from the next attempt on', async () => {
    await using other = await brokerWith(await authority.issue('broker'))
    const caFile = join(folder.path, 'later.pem')
    await using hub = await tryAt({ url: `mqtts://127.0.0.1:${other.port}`, caFile })
    await until('the problem', () => hub.front.state().problem)
    expect(hub.front.state().problem).toMatch(/LOAMLINE_BROKER_CA cannot be used: .*later\.pem/)
    copyFileSync(authority.ca, caFile)
    await until('the hub is up', () => hub.front.state().state === 'up')
  })
})

test('a broker whose certificate nobody vouches for is not spoken to, and the reason is said', async () => {
  await using hub = await tryAt({})
  const { front } = hub
  await until('the problem is said', () => front.state().problem)
  expect(front.state()).toMatchObject({
    state: 'down',
    problem: expect.stringMatching(/self-signed certificate; LOAMLINE_BROKER_CA names a file/),
  })
})

test.each(['127.0.0.1', 'localhost'])(
  'with a certificate it trusts the hub takes readings from %s over TLS',
  async (host) => {
    // The system's list of authorities is read once, at the start of a process.
    const child = fork(
      'tests/support/intake-host.ts',
      [folder.path, 'external', `mqtts://${host}:${encryptedPort}`],
      {
        execArgv: [],
        stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
        env: { ...process.env, NODE_EXTRA_CA_CERTS: certificate },
      },
    )
    let said = ''
    let up = false
    let messages = 0
    child.stderr?.on('data', (chunk: Buffer) => (said += chunk.toString()))
    child.on('message', (news: HostNews) => {
      if (news.kind === 'up') up = true
      if (news.kind === 'tally') messages = news.messages
    })
    const exit = once(child, 'exit')
    try {
      await until('the hub is up', () => up).catch(() => expect.fail(said))
      const probe = await mqtt.connectAsync(broker.url, { clientId: 'bed3a' })
      await probe.publishAsync('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"v":{"m1":1}}', { qos: 1 })
      await probe.endAsync()
      await until('committed', () => messages === 1)
    } finally {
      child.kill('SIGTERM')
      await exit
    }
    expect(child.exitCode, said).toBe(0)
  },
)
