import { execFile, execFileSync } from 'node:child_process'
import { chmodSync, readFileSync, readdirSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { promisify } from 'node:util'
import mqtt from 'mqtt'
import type { IClientOptions, MqttClient } from 'mqtt'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { openExternalBroker } from '#hub/ingest/external-broker.ts'
import {
  ACCESS_FILE,
  createBrokerFiles,
  hubAccount,
  PASSWORD_FILE,
  READER,
  type BrokerFiles,
} from '#hub/ingest/broker-files.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { brokerHash } from '#hub/ingest/password.ts'
import { openProbePasswords, type ProbePasswords } from '#hub/ingest/probe-passwords.ts'
import { createRateLimiter } from '#hub/ingest/rate-limiter.ts'
import { startBroker, type TestBroker } from '#tests/support/broker.ts'
import { memoryCredentials } from '#tests/support/memory-credentials.ts'
import { memoryGarden, memoryReadings } from '#tests/support/memory-stores.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

const HUB_PASSWORD = 'a hub of its own'

let dir: ReturnType<typeof tempDir>
let folder: string
let files: BrokerFiles
let passwords: ProbePasswords
const trouble: string[] = []

beforeEach(async () => {
  dir = tempDir()
  folder = join(dir.path, 'broker')
  files = createBrokerFiles(folder, await hubAccount('hub', HUB_PASSWORD), (m) => trouble.push(m))
  passwords = await openProbePasswords(memoryCredentials(), Date.now, files)
})
afterEach(() => {
  files.stop()
  dir[Symbol.dispose]()
})

const text = (name: string): string => readFileSync(join(folder, name), 'utf8')
const users = (): string[] =>
  text(PASSWORD_FILE)
    .trim()
    .split('\n')
    .map((line) => line.split(':')[0]!)

test('both files are there from the start, follow every change, and are the owner’s alone', async () => {
  expect(users()).toEqual(['hub'])
  const password = await passwords.make('bed3a')
  await passwords.make('bed3b')
  expect(users()).toEqual(['hub', 'bed3a', 'bed3b'])
  const before = text(PASSWORD_FILE)
  await passwords.make('bed3a')
  expect(text(PASSWORD_FILE)).not.toBe(before)
  await passwords.revoke('bed3b')
  expect(users()).toEqual(['hub', 'bed3a'])
  expect(readdirSync(folder).sort()).toEqual([ACCESS_FILE, PASSWORD_FILE])
  for (const name of [ACCESS_FILE, PASSWORD_FILE])
    expect(statSync(join(folder, name)).mode & 0o777).toBe(0o600)
  expect(text(PASSWORD_FILE)).not.toContain(password)
  expect(text(PASSWORD_FILE)).not.toContain(HUB_PASSWORD)
})

test('many changes at once end in what was changed last', async () => {
  const ids = Array.from({ length: 12 }, (_, i) => `bed${i}x`)
  await Promise.all(ids.map((id) => passwords.make(id)))
  await Promise.all(ids.slice(0, 6).map((id) => passwords.revoke(id)))
  expect(users().sort()).toEqual(['hub', ...ids.slice(6)].sort())
})

test('a folder that cannot be written is said, and the files are as they were', async () => {
  await passwords.make('bed3a')
  const before = text(PASSWORD_FILE)
  const blocked = join(dir.path, 'file')
  writeFileSync(blocked, '')
  const other = createBrokerFiles(join(blocked, 'x'), await hubAccount('hub', 'x'), () => {})
  await expect(other.write([])).rejects.toMatchObject({
    code: 'HUB_STORE_UNAVAILABLE',
    message: expect.stringContaining(blocked),
  })
  other.stop()
  expect(text(PASSWORD_FILE)).toBe(before)
})

test.each([
  [null, 'x', /LOAMLINE_BROKER_USER and LOAMLINE_BROKER_PASSWORD/],
  ['hub', null, /LOAMLINE_BROKER_PASSWORD/],
  ['bed3a', 'x', /that no probe can have/],
  ['a:b', 'x', /that no probe can have/],
  [READER, 'x', /that no probe can have/],
  ['a\nb', 'x', /that no probe can have/],
])('an account of %j is refused', async (user, password, message) => {
  await expect(hubAccount(user, password)).rejects.toMatchObject({
    code: 'HUB_CONFIG',
    message: expect.stringMatching(message),
  })
})

test('hashes are those of mosquitto_passwd', async () => {
  const file = join(dir.path, 'theirs')
  writeFileSync(file, '', { mode: 0o600 })
  execFileSync('mosquitto_passwd', ['-b', file, 'bed3a', 'SECRET7'])
  const [, theirs] = readFileSync(file, 'utf8').trim().split(':')
  const [, kind, iterations, salt] = theirs!.split('$')
  expect(kind).toBe('7')
  expect(await brokerHash('SECRET7', Buffer.from(salt!, 'base64'), Number(iterations))).toBe(theirs)
  // Ours has the same shape: the same count of iterations, a salt and a hash of the same length.
  const ours = (await brokerHash('SECRET7')).split('$')
  expect(ours.map((part) => part.length)).toEqual(theirs!.split('$').map((part) => part.length))
  expect(ours[2]).toBe(iterations)
})

describe('a real mosquitto with these files', () => {
  let broker: TestBroker
  let clients: MqttClient[]
  beforeEach(async () => {
    clients = []
    // The broker may run as another user than the tests; here it is the same.
    if (process.getuid?.() === 0) chmodSync(dir.path, 0o755)
    broker = await startBroker({
      config: [
        'allow_anonymous false',
        `password_file ${join(folder, PASSWORD_FILE)}`,
        `acl_file ${join(folder, ACCESS_FILE)}`,
        'use_username_as_clientid true',
      ],
    })
  })
  afterEach(async () => {
    await Promise.all(clients.map((client) => client.endAsync(true)))
    await broker.close()
  })

  async function client(
    user: string,
    password: string,
    options: IClientOptions = {},
  ): Promise<MqttClient> {
    const connected = await mqtt.connectAsync(broker.url, {
      clientId: user,
      username: user,
      password,
      reconnectPeriod: 0,
      protocolVersion: 4,
      ...options,
    })
    connected.on('error', () => {})
    clients.push(connected)
    return connected
  }

  test('right passwords come in, wrong ones do not, and foreign topics stay foreign', async () => {
    const a = await passwords.make('bed3a')
    const b = await passwords.make('bed3b')
    await broker.reload()
    await expect(client('bed3a', b)).rejects.toMatchObject({ code: 5 })
    await expect(client('bed3a', '')).rejects.toMatchObject({ code: 5 })
    await expect(client('nobody', 'x')).rejects.toMatchObject({ code: 5 })
    await expect(mqtt.connectAsync(broker.url, { reconnectPeriod: 0 })).rejects.toMatchObject({
      code: 5,
    })

    const hub = await client('hub', HUB_PASSWORD)
    const heard: string[] = []
    hub.on('message', (topic) => heard.push(topic))
    await hub.subscribeAsync('lm1/+/up/#', { qos: 1 })
    const first = await client('bed3a', a)
    const read: string[] = []
    first.on('message', (topic) => read.push(topic))
    // At 3.1.1 mosquitto grants what it never delivers.
    await first.subscribeAsync(['#', 'lm1/#', 'lm1/+/dn/#', 'lm1/bed3b/up/#', 'lm1/bed3b/dn/#'])
    const second = await client('bed3b', b, {
      will: { topic: 'lm1/bed3a/up/state', payload: Buffer.from('{}'), qos: 1, retain: true },
    })
    second.stream.destroy()
    for (const topic of [
      'lm1/bed3a/up/r',
      'lm1/bed3a/dn/cmd',
      'lm1/bed3b/dn/cfg',
      'lm1/hub/state',
      'elsewhere',
    ]) {
      const who = ['-h', '127.0.0.1', '-p', String(broker.port), '-i', 'bed3b', '-u', 'bed3b']
      await promisify(execFile)('mosquitto_pub', [
        ...who,
        ...['-P', b, '-q', '1', '-r', '-t', topic, '-m', '{"foreign":1}'],
      ])
    }
    await hub.publishAsync('lm1/bed3b/dn/cmd', '{}', { qos: 1 })
    await hub.publishAsync('lm1/hub/alerts/bed-1/dry', '{}', { qos: 1 })
    const again = await client('bed3b', b)
    await again.publishAsync('lm1/bed3b/up/r', '{}', { qos: 1 })
    await first.publishAsync('lm1/bed3a/up/r', '{}', { qos: 1 })
    await hub.publishAsync('lm1/hub/state', '{"s":"on"}', { qos: 1 })
    await hub.publishAsync('lm1/bed3a/dn/cmd', '{}', { qos: 1 })
    await until('its own command', () => read.includes('lm1/bed3a/dn/cmd'))
    await until('both readings', () => heard.length >= 2)
    expect(heard.toSorted()).toEqual(['lm1/bed3a/up/r', 'lm1/bed3b/up/r'])
    expect([...new Set(read)].toSorted()).toEqual(['lm1/bed3a/dn/cmd', 'lm1/hub/state'])
  })

  test('the account for other programs reads what the hub says, and can write nothing', async () => {
    const account = await hubAccount('hub', HUB_PASSWORD, 'reads along')
    const withReader = createBrokerFiles(folder, account, (m) => trouble.push(m))
    await withReader.write([])
    expect(users()).toEqual(['hub', READER])
    await broker.reload()

    const hub = await client('hub', HUB_PASSWORD)
    const atHub: string[] = []
    hub.on('message', (topic) => atHub.push(topic))
    await hub.subscribeAsync(['lm1/+/up/#', 'lm1/hub/ingest/#'], { qos: 1 })
    for (const topic of ['lm1/hub/alerts/bed-1/dry', 'lm1/hub/messages/1', 'lm1/bed3a/dn/cmd'])
      await hub.publishAsync(topic, '{"of":"hub"}', { qos: 1, retain: true })

    // One by one: mosquitto hangs up on who writes what it may not.
    const asReader = ['-h', '127.0.0.1', '-p', String(broker.port), '-i', READER, '-u', READER]
    for (const topic of [
      `lm1/${READER}/up/r`,
      'lm1/bed3a/up/r',
      'lm1/bed3a/dn/cmd',
      'lm1/hub/state',
      'lm1/hub/alerts/bed-1/dry',
      'lm1/hub/ingest/one',
    ]) {
      const message = ['-t', topic, '-r', '-q', '1', '-m', '{"of":"reader"}']
      await promisify(execFile)('mosquitto_pub', [...asReader, '-P', 'reads along', ...message])
    }
    const reader = await client(READER, 'reads along')
    const read: string[] = []
    reader.on('message', (topic, payload) => read.push(`${topic} ${payload.toString()}`))
    await reader.subscribeAsync(['#', 'lm1/#', 'lm1/hub/#', 'lm1/+/up/#', 'lm1/+/dn/#'])
    // What came before it has come when this has.
    await hub.publishAsync('lm1/hub/ingest/end', '{"of":"hub"}', { qos: 1 })
    await until('the end', () => atHub.length > 0 && read.some((line) => line.includes('/end ')))
    expect(atHub).toEqual(['lm1/hub/ingest/end'])
    expect([...new Set(read)].toSorted()).toEqual([
      'lm1/hub/alerts/bed-1/dry {"of":"hub"}',
      'lm1/hub/ingest/end {"of":"hub"}',
      'lm1/hub/messages/1 {"of":"hub"}',
    ])
  })

  test('a new password needs a SIGHUP; one that is taken away is out after it', async () => {
    const old = await passwords.make('bed3a')
    await broker.reload()
    const connected = await client('bed3a', old)
    const gone = new Promise<void>((resolve) => connected.once('close', () => resolve()))
    const next = await passwords.make('bed3a')
    await broker.reload()
    await gone
    await expect(client('bed3a', old)).rejects.toMatchObject({ code: 5 })
    await client('bed3a', next)
    await passwords.revoke('bed3a')
    await broker.reload()
    await expect(client('bed3a', next)).rejects.toMatchObject({ code: 5 })
  })

  test('the hub works through it, and counts a probe that sends too much', async () => {
    const password = await passwords.make('bed3a')
    await broker.reload()
    const store = memoryReadings()
    const log = { warn: () => {}, info: () => {} }
    const ingest = createIngest({
      readings: store.port,
      garden: memoryGarden().port,
      clock: Date.now,
      log,
    })
    const notices: string[] = []
    const limiter = createRateLimiter({ clock: Date.now, onNotice: (probe) => notices.push(probe) })
    const front = await openExternalBroker({
      url: broker.url,
      username: 'hub',
      password: HUB_PASSWORD,
      ingest,
      clock: Date.now,
      log,
      limiter,
    })
    try {
      await until('the hub is up', () => front.state().state === 'up')
      const probe = await client('bed3a', password)
      const acks: string[] = []
      probe.on('message', (topic) => acks.push(topic))
      await probe.subscribeAsync('lm1/bed3a/dn/#')
      await probe.publishAsync('lm1/bed3a/up/state', '{"s":"on","b":1,"u":1}', { qos: 1 })
      await until('the time', () => acks.includes('lm1/bed3a/dn/time'))
      for (let n = 0; n < 200; n++) {
        await probe.publishAsync('lm1/bed3a/up/r', `{"b":1,"n":${n},"u":${n},"v":{"m1":1}}`, {
          qos: 1,
        })
      }
      await until('the notice', () => (limiter.notice('bed3a')?.refused ?? 0) > 100)
      expect(notices).toEqual(['bed3a'])
      expect(store.readings.size).toBeLessThan(100)
      expect(store.quarantined).toEqual([])
    } finally {
      await front.stop()
    }
  })
})
