import mqtt from 'mqtt'
import type { IClientOptions, MqttClient } from 'mqtt'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { openEmbeddedBroker } from '#hub/ingest/embedded-broker.ts'
import type { Strangers } from '#hub/ingest/access.ts'
import type { Front } from '#hub/ingest/front.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { openProbePasswords, type ProbePasswords } from '#hub/ingest/probe-passwords.ts'
import { createRateLimiter } from '#hub/ingest/rate-limiter.ts'
import { memoryCredentials } from '#tests/support/memory-credentials.ts'
import { memoryGarden, memoryReadings } from '#tests/support/memory-stores.ts'
import type { MemoryReadings } from '#tests/support/memory-stores.ts'
import { until } from '#tests/support/until.ts'

let store: MemoryReadings
let front: Front
let passwords: ProbePasswords
let clients: MqttClient[]
let said: string[]
let now: number
let notices: string[]

async function open(strangers: Strangers): Promise<void> {
  store = memoryReadings()
  said = []
  notices = []
  now = Date.UTC(2026, 4, 1)
  const clock = (): number => now
  const log = { warn: (m: string) => said.push(m), info: (m: string) => said.push(m) }
  const ingest = createIngest({
    readings: store.port,
    garden: memoryGarden().port,
    clock,
    log,
  })
  passwords = await openProbePasswords(memoryCredentials(), clock, null)
  front = await openEmbeddedBroker({
    host: '127.0.0.1',
    port: 0,
    ingest,
    clock,
    log,
    passwords,
    strangers,
    limiter: createRateLimiter({ clock, onNotice: (probe) => notices.push(probe) }),
  })
}

beforeEach(async () => {
  clients = []
  await open('anyone')
})
afterEach(async () => {
  await Promise.all(clients.map((client) => client.endAsync(true)))
  await front.stop()
})

async function client(clientId: string, options: IClientOptions = {}): Promise<MqttClient> {
  const connected = await mqtt.connectAsync(front.address, {
    clientId,
    reconnectPeriod: 0,
    protocolVersion: 4,
    ...options,
  })
  connected.on('error', () => {})
  clients.push(connected)
  return connected
}
const probe = (id: string, password: string, more: IClientOptions = {}): Promise<MqttClient> =>
  client(id, { username: id, password, ...more })

function topicsOf(listener: MqttClient): string[] {
  const all: string[] = []
  listener.on('message', (topic) => all.push(topic))
  return all
}
const reading = (n: number): string => `{"b":1,"n":${n},"u":${n},"v":{"m1":1}}`

describe('a probe with a password', () => {
  test('is let in with it, and with nothing else', async () => {
    const password = await passwords.make('bed3a')
    const right = await probe('bed3a', password)
    await right.publishAsync('lm1/bed3a/up/r', reading(0), { qos: 1 })
    expect([...store.readings.keys()]).toEqual(['bed3a/1/0'])
    for (const wrong of ['', 'x', password.slice(1), password.toLowerCase(), `${password}A`]) {
      await expect(probe('bed3a', wrong)).rejects.toMatchObject({ code: 4 })
    }
    await expect(client('bed3a', { username: 'bed3a' })).rejects.toMatchObject({ code: 4 })
    await expect(client('bed3a')).rejects.toMatchObject({ code: 5 })
    await expect(client('bed3b', { username: 'bed3a', password })).rejects.toMatchObject({
      code: 2,
    })
    // Whoever was refused has not pushed it out.
    await right.publishAsync('lm1/bed3a/up/r', reading(1), { qos: 1 })
    expect(store.readings.size).toBe(2)
    expect(passwords.wrongAt('bed3a')).toBe(now)
    expect(said.join('\n')).not.toContain(password)
  })

  test('renewing ends the connection and the old password', async () => {
    const old = await passwords.make('bed3a')
    const connected = await probe('bed3a', old)
    const gone = new Promise<void>((resolve) => connected.once('close', () => resolve()))
    const next = await passwords.make('bed3a')
    await gone
    expect(next).not.toBe(old)
    await expect(probe('bed3a', old)).rejects.toMatchObject({ code: 4 })
    await probe('bed3a', next)
  })

  test('revoking ends the connection, and nothing is let in under the id, open house or not', async () => {
    const password = await passwords.make('bed3a')
    const connected = await probe('bed3a', password)
    const gone = new Promise<void>((resolve) => connected.once('close', () => resolve()))
    await passwords.revoke('bed3a')
    await gone
    await expect(probe('bed3a', password)).rejects.toMatchObject({ code: 5 })
    await expect(client('bed3a')).rejects.toMatchObject({ code: 5 })
    const other = await client('somebody')
    await other.publishAsync('lm1/bed3a/up/r', reading(0), { qos: 1 })
    expect(store.readings.size).toBe(0)
  })

  test('a stranger who sat under its id is shown out when it gets its password', async () => {
    const stranger = await client('bed3a')
    const gone = new Promise<void>((resolve) => stranger.once('close', () => resolve()))
    await passwords.make('bed3a')
    await gone
  })

  test('nobody else writes for it: not a stranger, not another probe, not a will', async () => {
    const password = await passwords.make('bed3a')
    const otherPassword = await passwords.make('bed3b')
    const watcher = await client('watcher')
    const seen = topicsOf(watcher)
    await watcher.subscribeAsync('lm1/#')
    const stranger = await client('somebody')
    await stranger.publishAsync('lm1/bed3a/up/r', reading(0), { qos: 1 })
    const other = await probe('bed3b', otherPassword, {
      will: {
        topic: 'lm1/bed3a/up/state',
        payload: Buffer.from('{"s":"off","b":1}'),
        qos: 1,
        retain: true,
      },
    })
    for (const topic of [
      'lm1/bed3a/up/r',
      'lm1/bed3a/dn/cmd',
      'lm1/bed3b/dn/cfg',
      'lm1/hub/state',
      'lm1/hub/alerts/bed-1/dry',
      'elsewhere/x',
    ]) {
      await other.publishAsync(topic, reading(0), { qos: 1, retain: true })
    }
    const aside = store.quarantined.length
    expect(aside).toBe(7)
    other.stream.destroy()
    await until('the will is refused', () => store.quarantined.length > aside)
    expect(store.quarantined.at(-1)).toMatchObject({ topic: 'lm1/bed3a/up/state' })
    const own = await probe('bed3a', password)
    await own.publishAsync('lm1/bed3a/up/r', reading(5), { qos: 1 })
    await until('its own is seen', () => seen.includes('lm1/bed3a/up/r'))
    expect([...store.readings.keys()]).toEqual(['bed3a/1/5'])
    expect(seen.filter((topic) => topic !== 'lm1/hub/state')).toEqual(['lm1/bed3a/up/r'])
  })

  test('a will below its own topics is its state', async () => {
    const password = await passwords.make('bed3a')
    const watcher = await client('watcher')
    const seen = topicsOf(watcher)
    await watcher.subscribeAsync('lm1/+/up/state')
    const own = await probe('bed3a', password, {
      will: {
        topic: 'lm1/bed3a/up/state',
        payload: Buffer.from('{"s":"off","b":1}'),
        qos: 0,
        retain: true,
      },
    })
    own.stream.destroy()
    await until('the will', () => seen.includes('lm1/bed3a/up/state'))
  })

  test.each([
    '#',
    '+/#',
    'lm1/#',
    'lm1/+/dn/#',
    'lm1/+/dn/ack',
    'lm1/bed3b/dn/#',
    'lm1/bed3b/up/#',
    'lm1/bed3a/up/#',
    'lm1/bed3a/#',
    'lm1/hub/#',
    'lm1/hub/+',
    '$SYS/#',
  ])('does not read %s', async (filter) => {
    const own = await probe('bed3a', await passwords.make('bed3a'))
    const seen = topicsOf(own)
    const refusal = await own.subscribeAsync(filter).catch((error: unknown) => error)
    expect(String(refusal)).toMatch(/Unspecified error|128/)
    await own.subscribeAsync(['lm1/bed3a/dn/#', 'lm1/hub/state'])
    await front.publish('lm1/bed3b/dn/cmd', '{"id":1,"do":"read"}', { retain: false })
    await front.publish('lm1/hub/alerts/bed-1/dry', '{}', { retain: false })
    await front.publish('lm1/bed3a/dn/cmd', '{"id":2,"do":"read"}', { retain: false })
    await until('its own command', () => seen.includes('lm1/bed3a/dn/cmd'))
    expect(seen.sort()).toEqual(['lm1/bed3a/dn/cmd', 'lm1/hub/state'])
  })

  test('a session from before it had a password brings it nothing of others', async () => {
    const before = await client('bed3a', { clean: false })
    await before.subscribeAsync('lm1/#', { qos: 1 })
    await before.endAsync()
    await front.publish('lm1/bed3b/dn/cmd', '{"id":1,"do":"read"}', { retain: false })
    const own = mqtt.connect(front.address, {
      clientId: 'bed3a',
      username: 'bed3a',
      password: await passwords.make('bed3a'),
      clean: false,
      reconnectPeriod: 0,
      protocolVersion: 4,
    })
    clients.push(own)
    const seen = topicsOf(own)
    await new Promise<void>((resolve) => own.once('connect', () => resolve()))
    await own.subscribeAsync('lm1/bed3a/dn/#')
    await front.publish('lm1/bed3b/dn/cmd', '{"id":2,"do":"read"}', { retain: false })
    await front.publish('lm1/bed3a/dn/cmd', '{"id":3,"do":"read"}', { retain: false })
    await until('its own command', () => seen.includes('lm1/bed3a/dn/cmd'))
    expect(seen).toEqual(['lm1/bed3a/dn/cmd'])
  })
})

describe('strangers', () => {
  test.each(['+', '#', 'hub', 'a+b', 'Bed3a', 'ab'])(
    'a user name of %s opens nothing',
    async (name) => {
      await expect(probe(name, 'x')).rejects.toMatchObject({ code: 2 })
    },
  )

  test('are let in from this machine, or not at all, as the setting says', async () => {
    await front.stop()
    await open('local')
    await client('somebody')
    await front.stop()
    await open('nobody')
    await expect(client('somebody')).rejects.toMatchObject({ code: 5 })
    await expect(probe('bed9z', 'x')).rejects.toMatchObject({ code: 5 })
    expect(said.join('\n')).toMatch(
      /somebody: not let in: it has no password here.*LOAMLINE_STRANGERS/,
    )
    const own = await probe('bed3a', await passwords.make('bed3a'))
    await own.publishAsync('lm1/bed3a/up/r', reading(0), { qos: 1 })
    expect(store.readings.size).toBe(1)
  })
})

describe('a probe gone wild', () => {
  test('is cut off past its burst, told of once, and comes back at the pace it may have', async () => {
    const password = await passwords.make('bed3a')
    const own = await probe('bed3a', password)
    const gone = new Promise<void>((resolve) => own.once('close', () => resolve()))
    const confirmed: number[] = []
    for (let n = 0; n < 200; n++) {
      own.publish('lm1/bed3a/up/r', reading(n), { qos: 1 }, (error) => {
        if (!error) confirmed.push(n)
      })
    }
    await gone
    // What was confirmed is stored; what was not taken was never confirmed.
    for (const n of confirmed) expect(store.readings.has(`bed3a/1/${n}`)).toBe(true)
    expect(store.readings.size).toBeLessThanOrEqual(60)
    expect(store.quarantined.map((q) => q.reason)).toEqual([])
    expect(notices).toEqual(['bed3a'])
    expect(said.filter((line) => line.includes('bed3a'))).toEqual([])

    now += 10_000
    const again = await probe('bed3a', password)
    for (let n = 300; n < 310; n++)
      await again.publishAsync('lm1/bed3a/up/r', reading(n), { qos: 1 })
    expect(store.readings.has('bed3a/1/309')).toBe(true)
    expect(notices).toEqual(['bed3a'])
  })

  test('at QoS 0 loses what is too much and keeps its connection; others do not feel it', async () => {
    const own = await probe('bed3a', await passwords.make('bed3a'))
    const other = await probe('bed3b', await passwords.make('bed3b'))
    for (let n = 0; n < 200; n++) own.publish('lm1/bed3a/up/r', reading(n), { qos: 0 })
    await other.publishAsync('lm1/bed3b/up/r', reading(0), { qos: 1 })
    await until('the notice', () => notices.includes('bed3a'))
    await own.subscribeAsync('lm1/bed3a/dn/#')
    expect(own.connected).toBe(true)
    await until('its burst is stored', () => store.readings.size === 61)
    expect(notices).toEqual(['bed3a'])
  })
})
