import { execFile } from 'node:child_process'
import { connect, createServer } from 'node:net'
import type { AddressInfo } from 'node:net'
import { promisify } from 'node:util'
import mqtt from 'mqtt'
import type { IClientOptions, MqttClient } from 'mqtt'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { openEmbeddedBroker } from '#hub/ingest/embedded-broker.ts'
import { openExternalBroker } from '#hub/ingest/external-broker.ts'
import type { Front } from '#hub/ingest/front.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { startBroker } from '#tests/support/broker.ts'
import type { TestBroker } from '#tests/support/broker.ts'
import { memoryGarden, memoryReadings } from '#tests/support/memory-stores.ts'
import type { MemoryGarden, MemoryReadings } from '#tests/support/memory-stores.ts'
import { freePort } from '#tests/support/ports.ts'
import { until } from '#tests/support/until.ts'

const HOUR = 3_600_000

let store: MemoryReadings
let garden: MemoryGarden
let broker: TestBroker
let open: { stop(): Promise<void> }[]
let clients: MqttClient[]
let said: string[]
let now: () => number

const log = {
  warn: (message: string) => said.push(message),
  info: (message: string) => said.push(message),
}

beforeEach(async () => {
  store = memoryReadings()
  garden = memoryGarden()
  open = []
  clients = []
  said = []
  now = Date.now
  broker = await startBroker()
})
afterEach(async () => {
  store.down = false
  await Promise.all(clients.map((client) => client.endAsync(true)))
  for (const front of open) await front.stop()
  await broker.close()
})

/** A hub's way in, with an ingest of its own as after a start. */
async function hub(
  options: { url?: string; username?: string; clientId?: string } = {},
): Promise<Front> {
  const clock = (): number => now()
  const ingest = createIngest({
    readings: store.port,
    garden: garden.port,
    clock,
    log,
    retryMs: [20],
  })
  const front = await openExternalBroker({ url: broker.url, ...options, ingest, clock, log })
  open.push(front)
  return front
}

async function up(front: Front): Promise<Front> {
  await until('the hub is up', () => front.state().state === 'up')
  return front
}

async function client(clientId: string, options: IClientOptions = {}): Promise<MqttClient> {
  const connected = await mqtt.connectAsync(broker.url, {
    clientId,
    reconnectPeriod: 0,
    protocolVersion: 4,
    ...options,
  })
  clients.push(connected)
  return connected
}

function messagesOf(listener: MqttClient): { topic: string; text: string; retain: boolean }[] {
  const all: { topic: string; text: string; retain: boolean }[] = []
  listener.on('message', (topic, payload, packet) =>
    all.push({ topic, text: payload.toString(), retain: packet.retain }),
  )
  return all
}

const reading = (n: number, u = n, m = n): string => `{"b":1,"n":${n},"u":${u},"v":{"m1":${m}}}`

test('a reading by mosquitto_pub is stored and answered', async () => {
  await up(await hub())
  const watcher = await client('watcher')
  const seen = messagesOf(watcher)
  await watcher.subscribeAsync('lm1/+/dn/#')
  await promisify(execFile)('mosquitto_pub', [
    '-h',
    '127.0.0.1',
    '-p',
    String(broker.port),
    '-q',
    '1',
    '-t',
    'lm1/bed3a/up/r',
    '-m',
    reading(0),
  ])
  await until('stored', () => store.readings.has('bed3a/1/0'))
  await until('answered', () => seen.find((m) => m.topic === 'lm1/bed3a/dn/ack'))
})

test('nothing is acknowledged to the broker before the commit: it comes again', async () => {
  const first = await up(await hub())
  store.down = true
  const probe = await client('bed3a')
  for (let n = 0; n < 5; n++) await probe.publishAsync('lm1/bed3a/up/r', reading(n), { qos: 1 })
  await until('the trouble is said', () => said.find((m) => m.includes('unacknowledged')))
  await first.stop()
  expect(store.readings.size).toBe(0)
  store.down = false
  await up(await hub())
  await until('all of it came again', () => store.readings.size === 5)
})

test('what is published while the hub is away arrives when it is back, at the time it was measured', async () => {
  const start = Date.now()
  now = () => start
  const first = await up(await hub())
  const probe = await client('bed3a')
  await probe.publishAsync('lm1/bed3a/up/r', reading(0, 0), { qos: 1 })
  await until('the first', () => store.readings.size === 1)
  now = () => start + HOUR
  await probe.publishAsync('lm1/bed3a/up/r', reading(1, 3600), { qos: 1 })
  await until('the second', () => store.readings.size === 2)
  await first.stop()

  for (let n = 2; n <= 8; n++)
    await probe.publishAsync('lm1/bed3a/up/r', reading(n, 1800 * n), { qos: 1 })
  now = () => start + 4 * HOUR
  await up(await hub())
  await until('the rest', () => store.readings.size === 9)
  const late = store.readings.get('bed3a/1/4')
  expect(late?.placedBy).toBe('anchors')
  expect(Math.abs((late?.at ?? 0) - (start + 2 * HOUR))).toBeLessThan(1000)
  // The last one was measured just now: it is live again, and an anchor.
  expect(store.readings.get('bed3a/1/8')?.placedBy).toBe('arrival')

  // Once the hub knows that the broker has no more for it, which it hears from the broker.
  let n = 0
  await until('another probe is live', async () => {
    const key = `bed3b/1/${n}`
    await probe.publishAsync('lm1/bed3b/up/r', reading(n, 3 + n), { qos: 1 })
    await until('its reading', () => store.readings.has(key))
    n++
    return store.readings.get(key)?.placedBy === 'arrival'
  })
})

test('a broker restart is survived, said, and nothing is lost', async () => {
  const front = await up(await hub())
  const states: string[] = []
  front.onState(({ state }) => states.push(state))
  const probe = await client('bed3a')
  await probe.publishAsync('lm1/bed3a/up/r', reading(0), { qos: 1 })
  await until('stored', () => store.readings.size === 1)
  await broker.stop()
  await until('the hub says so', () => front.state().state === 'down')
  expect(front.state().problem).toMatch(/broker mqtt:\/\/127\.0\.0\.1:\d+/)
  await expect(front.publish('lm1/hub/alerts/1/x', '{}', { retain: true })).rejects.toMatchObject({
    code: 'HUB_BROKER_UNAVAILABLE',
    retry: true,
  })
  await broker.start()
  await up(front)
  const again = await client('bed3a')
  await again.publishAsync('lm1/bed3a/up/r', reading(1), { qos: 1 })
  await until('stored', () => store.readings.size === 2)
  expect(states).toEqual(['down', 'up'])
})

test('a broker that is not there at the start is waited for', async () => {
  await broker.stop()
  const front = await hub()
  await until('the problem is said', () => front.state().problem)
  expect(front.state()).toMatchObject({
    state: 'down',
    problem: expect.stringContaining('refused'),
  })
  await broker.start()
  await up(front)
})

test('kept copies describe a probe and are never readings', async () => {
  const probe = await client('bed3a')
  await probe.publishAsync(
    'lm1/bed3a/up/birth',
    '{"p":1,"fw":"x 1","b":1,"u":4,"iv":900,"ch":"m1"}',
    {
      qos: 1,
      retain: true,
    },
  )
  await probe.publishAsync('lm1/bed3a/up/ch/m1', '{"q":"moist.raw","u":"Hz"}', {
    qos: 1,
    retain: true,
  })
  await probe.publishAsync('lm1/bed3a/up/r', reading(0), { qos: 1, retain: true })
  await up(await hub())
  await until('the channel', () => garden.channels.get('bed3a/m1')?.described)
  expect(garden.probes.get('bed3a')?.firmware).toBe('x 1')
  await probe.publishAsync('lm1/bed3a/up/r', reading(1), { qos: 1 })
  await until('a live reading', () => store.readings.size === 1)
  expect([...store.readings.keys()]).toEqual(['bed3a/1/1'])
})

test('the valve: a slow store never makes the hub hold more than two batches', async () => {
  await up(await hub())
  const gate = Promise.withResolvers<void>()
  store.gate = gate.promise
  const probe = await client('bed3a')
  const sent = Array.from({ length: 3500 }, (_, n) =>
    probe.publishAsync('lm1/bed3a/up/r', reading(n), { qos: 1 }),
  )
  await Promise.all(sent)
  gate.resolve()
  store.gate = null
  await until('all stored', () => store.readings.size === 3500)
  expect(Math.max(...store.batches.map((b) => b.readings.length))).toBeLessThanOrEqual(1000)
  expect(store.duplicates).toBe(0)
})

test('the state of the hub stands at the broker: on, and off when it goes or dies', async () => {
  const front = await up(await hub())
  const watcher = await client('watcher')
  const seen = messagesOf(watcher)
  await watcher.subscribeAsync('lm1/hub/state')
  await until('on', () => seen.find((m) => m.text === '{"s":"on"}'))
  await front.stop()
  await until('off', () => seen.find((m) => m.text === '{"s":"off"}'))
})

test('a broker without MQTT 5 is spoken to in 3.1.1', async () => {
  const other = memoryReadings()
  const ingest = createIngest({
    readings: other.port,
    garden: memoryGarden().port,
    clock: Date.now,
    log,
  })
  const old = await openEmbeddedBroker({
    host: '127.0.0.1',
    port: await freePort(),
    ingest,
    clock: Date.now,
    log,
  })
  open.push(old)
  const front = await up(await hub({ url: old.address }))
  expect(said.join('\n')).toContain('3.1.1')
  const probe = await mqtt.connectAsync(old.address, { clientId: 'bed3a', protocolVersion: 4 })
  clients.push(probe)
  await probe.publishAsync('lm1/bed3a/up/r', reading(0), { qos: 1 })
  await until('stored', () => store.readings.size === 1)
  await front.stop()
})

test('a broker that hangs up on MQTT 5 without a word is spoken to in 3.1.1 at the next attempt', async () => {
  const link = createServer((near) => {
    near.on('error', () => {})
    near.once('data', (connectPacket) => {
      // Byte 9 of a CONNECT is the protocol level (MQTT 3.1.1, 3.1.2.2).
      if (connectPacket[8] === 5) return near.destroy()
      const far = connect(broker.port, '127.0.0.1')
      far.on('error', () => {})
      far.write(connectPacket)
      near.pipe(far).pipe(near)
    })
  })
  await new Promise<void>((resolve) => link.listen(0, '127.0.0.1', resolve))
  try {
    const front = await up(
      await hub({ url: `mqtt://127.0.0.1:${(link.address() as AddressInfo).port}` }),
    )
    const probe = await client('bed3a')
    await probe.publishAsync('lm1/bed3a/up/r', reading(0), { qos: 1 })
    await until('stored', () => store.readings.size === 1)
    await front.stop()
  } finally {
    link.close()
  }
})

test('a broker that forbids the hub to listen is said to do so', async () => {
  const ingest = createIngest({
    readings: store.port,
    garden: garden.port,
    clock: Date.now,
    log,
  })
  // The hub's own broker holds who logs in to the topics of one probe.
  const strict = await openEmbeddedBroker({
    host: '127.0.0.1',
    port: await freePort(),
    ingest,
    clock: Date.now,
    log,
  })
  open.push(strict)
  const front = await hub({ url: strict.address, username: 'hub1', clientId: 'hub1' })
  await until('the refusal', () => front.state().problem?.includes('does not let the hub read'))
  expect(front.state().state).toBe('down')
  await front.stop()
})

test('an address that is none is refused with what was expected', async () => {
  await expect(hub({ url: 'http://broker.home' })).rejects.toMatchObject({
    code: 'HUB_CONFIG',
    message: expect.stringContaining('expected mqtt://host:port'),
  })
})
