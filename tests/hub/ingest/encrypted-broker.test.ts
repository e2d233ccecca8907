import { fork } from 'node:child_process'
import { once } from 'node:events'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { openExternalBroker } from '#hub/ingest/external-broker.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { startBroker } from '#tests/support/broker.ts'
import type { TestBroker } from '#tests/support/broker.ts'
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

test('a broker whose certificate nobody vouches for is not spoken to, and the reason is said', async () => {
  const log = { warn: () => {}, info: () => {} }
  const ingest = createIngest({
    readings: memoryReadings().port,
    garden: memoryGarden().port,
    clock: Date.now,
    log,
  })
  const front = await openExternalBroker({
    url: `mqtts://127.0.0.1:${encryptedPort}`,
    ingest,
    clock: Date.now,
    log,
  })
  try {
    await until('the problem is said', () => front.state().problem)
    expect(front.state()).toMatchObject({
      state: 'down',
      problem: expect.stringContaining('self-signed certificate'),
    })
  } finally {
    await front.stop()
  }
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
