import { execFile } from 'node:child_process'
import { connect as connectTcp } from 'node:net'
import { promisify } from 'node:util'
import mqtt from 'mqtt'
import type { IClientOptions, MqttClient } from 'mqtt'
import { generate } from 'mqtt-packet'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { openEmbeddedBroker } from '#hub/ingest/embedded-broker.ts'
import type { Front } from '#hub/ingest/front.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { memoryGarden, memoryReadings } from '#tests/support/memory-stores.ts'
import type { MemoryReadings } from '#tests/support/memory-stores.ts'
import { until } from '#tests/support/until.ts'

let store: MemoryReadings
let front: Front
let port: number
let clients: MqttClient[]
let said: string[]

beforeEach(async () => {
  store = memoryReadings()
  clients = []
  said = []
  const log = { warn: (m: string) => said.push(m), info: (m: string) => said.push(m) }
  const ingest = createIngest({
    readings: store.port,
    garden: memoryGarden().port,
    clock: Date.now,
    log,
  })
  front = await openEmbeddedBroker({ host: '127.0.0.1', port: 0, ingest, clock: Date.now, log })
  port = Number(new URL(front.address).port)
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

test('a PUBACK comes after the commit, not before', async () => {
  const probe = await client('bed3a')
  const gate = Promise.withResolvers<void>()
  store.gate = gate.promise
  let acknowledged = false
  const sent = probe
    .publishAsync('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"v":{"m1":1873}}', { qos: 1 })
    .then(() => (acknowledged = true))
  // Only the answer to a ping can tell that the broker had time enough to answer.
  const other = await client('bed3b')
  await other.subscribeAsync('lm1/hub/state')
  expect(acknowledged).toBe(false)
  expect(store.readings.size).toBe(0)
  gate.resolve()
  await sent
  expect(store.readings.get('bed3a/1/0')?.values).toEqual([{ channel: 'm1', value: 1873 }])
})

test('a reading by mosquitto_pub alone is stored', async () => {
  await promisify(execFile)('mosquitto_pub', [
    '-h',
    '127.0.0.1',
    '-p',
    String(port),
    '-q',
    '1',
    '-t',
    'lm1/bed3a/up/r',
    '-m',
    '{"b":1,"n":0,"u":3,"v":{"phmv":10.6,"m1":1873}}',
  ])
  expect(store.readings.get('bed3a/1/0')?.values).toHaveLength(2)
})

test('a broken message is acknowledged, kept aside with the reason, and harms nothing', async () => {
  const probe = await client('bed3a')
  await probe.publishAsync('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"v":{"ph":nan}}', { qos: 1 })
  await probe.publishAsync('lm1/bed3a/up/r', '{"b":1,"n":1,"u":9,"v":{"m1":1}}', { qos: 1 })
  expect(store.readings.size).toBe(1)
  expect(store.quarantined.map((q) => q.reason)).toEqual([
    expect.stringContaining('has no NaN or infinity'),
  ])
})

test('a message outside its own topics is kept aside and reaches nobody; the connection stays', async () => {
  const watcher = await client('watcher')
  const seen = messagesOf(watcher)
  await watcher.subscribeAsync('lm1/#')
  const probe = await client('bed3a', { username: 'bed3a', password: 'x' })
  await probe.publishAsync('lm1/bed3b/dn/ack', '{"b":1,"n":9}', { qos: 1, retain: true })
  await probe.publishAsync('lm1/hub/state', '{"s":"off"}', { qos: 1, retain: true })
  await probe.publishAsync('lm1/bed3b/up/r', '{"b":1,"n":0,"u":3,"v":{"m1":1}}', { qos: 1 })
  await probe.publishAsync('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"v":{"m1":1}}', { qos: 1 })
  await until('the good one is seen', () => seen.some((m) => m.topic === 'lm1/bed3a/up/r'))
  expect(seen.map((m) => m.topic)).not.toContain('lm1/bed3b/up/r')
  expect(seen.filter((m) => m.topic === 'lm1/hub/state').map((m) => m.text)).toEqual(['{"s":"on"}'])
  expect([...store.readings.keys()]).toEqual(['bed3a/1/0'])
  expect(store.quarantined).toHaveLength(3)
  expect(probe.connected).toBe(true)
})

test('a client that logs in must use its user name as client id, and reads only what is for it', async () => {
  await expect(client('other', { username: 'bed3a', password: 'x' })).rejects.toThrow(/identifier/i)
  const probe = await client('bed3a', { username: 'bed3a', password: 'x' })
  const refusal = await probe.subscribeAsync('lm1/bed3b/up/#').catch((error: unknown) => error)
  expect(String(refusal)).toMatch(/Unspecified error|128/)
  const granted = await probe.subscribeAsync(['lm1/bed3a/dn/#', 'lm1/hub/state'])
  expect(granted.map((g) => g.qos)).toEqual([0, 0])
})

test('acknowledgements are retained, time never is', async () => {
  const probe = await client('bed3a')
  const live = messagesOf(probe)
  await probe.subscribeAsync('lm1/bed3a/dn/#')
  await probe.publishAsync('lm1/bed3a/up/state', '{"s":"on","b":1,"u":2}', { qos: 1, retain: true })
  await probe.publishAsync('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"v":{"m1":1}}', { qos: 1 })
  await until('the acknowledgement', () => live.find((m) => m.topic.endsWith('dn/ack')))
  await until('the time', () => live.find((m) => m.topic.endsWith('dn/time')))
  expect(live.find((m) => m.topic.endsWith('dn/ack'))?.text).toBe('{"b":1,"n":0}')

  const later = await client('later')
  const kept = messagesOf(later)
  await later.subscribeAsync('lm1/#')
  await until('the state', () => kept.find((m) => m.topic === 'lm1/bed3a/up/state'))
  await until('the acknowledgement', () => kept.find((m) => m.topic === 'lm1/bed3a/dn/ack'))
  expect(kept.map((m) => m.topic)).not.toContain('lm1/bed3a/dn/time')
  expect(kept.map((m) => m.topic)).not.toContain('lm1/bed3a/up/r')
})

test('a reading sent retained is stored once and never kept by the broker', async () => {
  const probe = await client('bed3a')
  await probe.publishAsync('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"v":{"m1":1}}', {
    qos: 1,
    retain: true,
  })
  expect(store.readings.size).toBe(1)
  const later = await client('later')
  const kept = messagesOf(later)
  await later.subscribeAsync('lm1/#')
  await until('the hub state', () => kept.find((m) => m.topic === 'lm1/hub/state'))
  expect(kept.map((m) => m.topic)).not.toContain('lm1/bed3a/up/r')
})

test('a packet over the limit ends the connection, loudly, and the hub goes on', async () => {
  const big = await client('bigone')
  const gone = new Promise<void>((resolve) => big.once('close', () => resolve()))
  big.publish('lm1/bigone/up/r', 'x'.repeat(5000), { qos: 1 })
  await gone
  expect(said.join('\n')).toMatch(/at most 4096 bytes, got one of 50\d\d/)
  const probe = await client('bed3a')
  await probe.publishAsync('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"v":{"m1":1}}', { qos: 1 })
  expect(store.readings.size).toBe(1)
})

test('bytes that are no MQTT end their own connection only', async () => {
  const socket = connectTcp(port, '127.0.0.1')
  await new Promise((resolve) => {
    socket.on('close', resolve)
    socket.on('error', () => {})
    socket.write('GET / HTTP/1.1\r\nHost: x\r\n\r\n'.repeat(400))
  })
  const probe = await client('bed3a')
  await probe.publishAsync('lm1/bed3a/up/r', '{"b":1,"n":0,"u":3,"v":{"m1":1}}', { qos: 1 })
  expect(store.readings.size).toBe(1)
})

test('while the store is down nothing is acknowledged; when it is back everything is', async () => {
  const probe = await client('bed3a')
  store.down = true
  let acknowledged = 0
  const sent = Array.from({ length: 20 }, (_, n) =>
    probe
      .publishAsync('lm1/bed3a/up/r', `{"b":1,"n":${n},"u":${n},"v":{"m1":${n}}}`, { qos: 1 })
      .then(() => acknowledged++),
  )
  await until('the trouble is said', () => said.find((m) => m.includes('unacknowledged')))
  expect(acknowledged).toBe(0)
  store.down = false
  await Promise.all(sent)
  expect(store.readings.size).toBe(20)
})

test('the will of a probe that vanishes is its state', async () => {
  const probe = await client('bed3a', {
    will: {
      topic: 'lm1/bed3a/up/state',
      payload: Buffer.from('{"s":"off","b":1}'),
      qos: 0,
      retain: true,
    },
  })
  const watcher = await client('watcher')
  const seen = messagesOf(watcher)
  await watcher.subscribeAsync('lm1/+/up/state')
  probe.stream.destroy()
  await until('the will', () => seen.find((m) => m.text.includes('off')))
})

test('a taken port is said in one clear line', async () => {
  const ingest = createIngest({
    readings: store.port,
    garden: memoryGarden().port,
    clock: Date.now,
    log: { warn: () => {}, info: () => {} },
  })
  await expect(
    openEmbeddedBroker({
      host: '127.0.0.1',
      port,
      ingest,
      clock: Date.now,
      log: { warn: () => {}, info: () => {} },
    }),
  ).rejects.toMatchObject({
    code: 'HUB_PORT_IN_USE',
    message: expect.stringContaining(String(port)),
  })
})

/** A probe on a bare socket, let in; `confirmed` are the numbers of the PUBACKs, in the order in which they came. */
async function bareProbe() {
  const socket = connectTcp(port, '127.0.0.1')
  const confirmed: number[] = []
  let greeted = false
  let left: Buffer = Buffer.alloc(0)
  socket.on('data', (chunk: Buffer) => {
    left = Buffer.concat([left, chunk])
    for (; left.length >= 4; left = left.subarray(4)) {
      if (left[0] === 0x20) greeted = true
      else confirmed.push(left.readUInt16BE(2))
    }
  })
  const connect = { cmd: 'connect', protocolId: 'MQTT', protocolVersion: 4 } as const
  socket.write(generate({ ...connect, clean: true, clientId: 'bed3a', keepalive: 60 }))
  await until('it is let in', () => greeted)
  return { socket, confirmed }
}

test('readings and what is none of them are confirmed in the order in which they were sent', async () => {
  const gate = Promise.withResolvers<void>()
  store.gate = gate.promise
  const { socket, confirmed } = await bareProbe()
  const total = 60
  for (let n = 1; n <= total; n++) {
    const isState = n % 10 === 0
    const publish = { cmd: 'publish', qos: 1, messageId: n, dup: false, retain: false } as const
    socket.write(
      generate({
        ...publish,
        topic: `lm1/bed3a/up/${isState ? 'state' : 'r'}`,
        payload: isState
          ? `{"s":"on","b":1,"u":${n}}`
          : `{"b":1,"n":${n},"u":${n},"v":{"m1":${n}}}`,
      }),
    )
    // Each in a read of its own, so that the short way is open again after what the library has come to.
    await new Promise((resolve) => setTimeout(resolve, 2))
  }
  expect(confirmed).toEqual([])
  gate.resolve()
  store.gate = null
  await until('all is confirmed', () => confirmed.length >= total, 30_000)
  expect(confirmed).toEqual(Array.from({ length: total }, (_, n) => n + 1))
  socket.destroy()
})

test('a client far faster than the store is held back; all it sends is confirmed once, in order', async () => {
  const total = 8000
  const gate = Promise.withResolvers<void>()
  store.gate = gate.promise
  const { socket, confirmed } = await bareProbe()
  for (let n = 0; n < total; n++) {
    const payload = `{"b":1,"n":${n},"u":${n},"v":{"m1":${n % 3000}}}`
    socket.write(
      generate({
        cmd: 'publish',
        topic: 'lm1/bed3a/up/r',
        payload,
        qos: 1,
        messageId: n + 1,
        dup: false,
        retain: false,
      }),
    )
  }
  expect(confirmed).toEqual([])
  gate.resolve()
  store.gate = null
  await until('all is confirmed', () => confirmed.length >= total, 30_000)
  expect(confirmed).toEqual(Array.from({ length: total }, (_, n) => n + 1))
  const stored = store.batches.flatMap(({ readings }) => readings.map(({ seq }) => seq))
  expect(stored).toEqual(Array.from({ length: total }, (_, n) => n))
  expect(Math.max(...store.batches.map(({ readings }) => readings.length))).toBeLessThanOrEqual(
    1000,
  )
  socket.destroy()
}, 60_000)
