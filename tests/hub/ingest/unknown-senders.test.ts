import type { Client } from 'aedes'
import mqtt from 'mqtt'
import type { IClientOptions, MqttClient } from 'mqtt'
import { afterEach, expect, test } from 'vitest'
import { createAdmission } from '#hub/ingest/admission.ts'
import { openEmbeddedBroker } from '#hub/ingest/embedded-broker.ts'
import type { Front } from '#hub/ingest/front.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { createRateLimiter } from '#hub/ingest/rate-limiter.ts'
import { memoryGarden, memoryReadings } from '#tests/support/memory-stores.ts'
import { until } from '#tests/support/until.ts'

/** What those at one address may send at once whom the garden does not know. */
const UNKNOWN_BURST = 300
const JUNK = 'x'.repeat(700)
/** So that the whole of the burst goes by messages, and none of it by bytes. */
const reading = (n: number): string => `{"b":1,"n":${n},"u":${n},"v":{"m1":1}}`

const ends: (() => Promise<unknown>)[] = []
afterEach(async () => {
  for (const end of ends.splice(0).reverse()) await end()
})

async function open(known: readonly string[] = [], maxStrangers = 50) {
  const store = memoryReadings()
  const notices: string[] = []
  // It stands still: nothing flows in.
  const clock = (): number => Date.UTC(2026, 4, 1)
  const log = { warn() {}, info() {} }
  const garden = memoryGarden()
  const ingest = createIngest({
    readings: store.port,
    garden: garden.port,
    clock,
    log,
    known,
    maxStrangers,
  })
  const limiter = createRateLimiter({ clock, onNotice: (sender) => notices.push(sender) })
  const front = await openEmbeddedBroker({
    host: '127.0.0.1',
    port: 0,
    ingest,
    clock,
    log,
    strangers: 'anyone',
    limiter,
  })
  ends.push(() => front.stop())
  return { store, garden, notices, front }
}

async function client(
  front: Front,
  clientId: string,
  options: IClientOptions = {},
): Promise<MqttClient> {
  const one = await mqtt.connectAsync(front.address, {
    clientId,
    reconnectPeriod: 0,
    protocolVersion: 4,
    ...options,
  })
  one.on('error', () => {})
  ends.push(() => one.endAsync(true))
  return one
}

test('a new name for each message, each client and each user opens no account of its own', async () => {
  const { store, notices, front } = await open()
  let sent = 0
  const flood = async (one: MqttClient, topic: (i: number) => string): Promise<void> => {
    const over = new Promise<void>((resolve) => one.once('close', () => resolve()))
    for (let i = 0; i < 1000; i++) one.publish(topic(sent++), JUNK, { qos: 1 }, () => {})
    await over
  }
  await flood(await client(front, 'nobody'), (i) => `lm1/s${i}x/up/r`)
  await flood(await client(front, 'nobody2'), (i) => `elsewhere/${i}`)
  const named = { username: 'newname', password: 'none' }
  await flood(await client(front, 'newname', named), () => 'lm1/newname/up/r')
  // At QoS 0 nobody is shown out.
  const quiet = await client(front, 'nobody3')
  for (let i = 0; i < 1000; i++) quiet.publish(`lm1/q${i}x/up/r`, JUNK, { qos: 0 })
  await quiet.subscribeAsync('lm1/hub/state')
  await until('what is taken is kept', () => store.quarantined.length === UNKNOWN_BURST)
  expect(notices).toEqual(['whoever is new at 127.0.0.1'])
})

test('who has a network of IPv6 addresses has one account for all of them', async () => {
  const admission = createAdmission({
    passwords: undefined,
    strangers: 'anyone',
    onRefused: () => {},
  })
  const cameFrom = async (remoteAddress: string): Promise<string> => {
    const one = { id: 'nobody', conn: { remoteAddress, localAddress: '::' } } as unknown as Client
    const isIn = await new Promise((resolve) =>
      admission.authenticate(one, undefined, undefined, (_error, success) => resolve(success)),
    )
    expect(isIn).toBe(true)
    return admission.addressOf(one)
  }
  const first = await cameFrom('2001:db8:1:2::5')
  expect(await cameFrom('2001:db8:1:2:ffff:1:2:3')).toBe(first)
  expect(await cameFrom('2001:db8:1:3::5')).not.toBe(first)
  expect(await cameFrom('::ffff:192.0.2.5')).toBe('192.0.2.5')
})

test('meanwhile probes the garden knows have what they may send, after a start too', async () => {
  const names = Array.from({ length: 30 }, (_, i) => `rook${i}`)
  const { store, notices, front } = await open(names)
  const nobody = await client(front, 'nobody')
  for (let i = 0; i < 1000; i++) nobody.publish(`lm1/s${i}x/up/r`, JUNK, { qos: 0 })
  await until('the notice', () => notices.length === 1)
  // Thirty at once behind the same address, more together than the unknown may.
  const known = await client(front, 'gateway')
  await Promise.all(
    names.flatMap((name) =>
      Array.from({ length: 20 }, (_, n) =>
        known.publishAsync(`lm1/${name}/up/r`, reading(n), { qos: 1 }),
      ),
    ),
  )
  expect(store.readings.size).toBe(600)
  expect(notices).toHaveLength(1)
  // Their limit is their own as before.
  for (let n = 20; n < 100; n++) known.publish('lm1/rook0/up/r', reading(n), { qos: 0 })
  await until('its notice', () => notices.includes('rook0'))
  await until('its burst', () => store.readings.size === 640)
})

test('a dozen new boards that boot at once are all heard, and from then on known', async () => {
  const { store, garden, notices, front } = await open()
  const names = Array.from({ length: 12 }, (_, i) => `wren${i}`)
  const boards = await Promise.all(names.map((name) => client(front, name)))
  const all = async (from: number, to: number): Promise<void> => {
    await Promise.all(
      boards.flatMap((board, i) =>
        Array.from({ length: to - from }, (_, n) =>
          board.publishAsync(`lm1/${names[i]}/up/r`, reading(from + n), { qos: 1 }),
        ),
      ),
    )
  }
  await all(0, 20)
  expect(garden.probes.size).toBe(12)
  // Sixty of each in all, as many as a probe may: together more than twice what the unknown may.
  await all(20, 60)
  expect(store.readings.size).toBe(12 * 60)
  expect(notices).toEqual([])
})

test('probes for which there is no room share what those at their address may send', async () => {
  const { store, garden, notices, front } = await open([], 2)
  const one = await client(front, 'gateway')
  for (const name of ['wren1', 'wren2']) {
    await one.publishAsync(`lm1/${name}/up/r`, reading(0), { qos: 1 })
  }
  for (let i = 0; i < 1000; i++) one.publish(`lm1/extra${i}/up/r`, reading(0), { qos: 0 })
  await until('the notice', () => notices.length === 1)
  await one.publishAsync('lm1/wren1/up/r', reading(1), { qos: 1 })
  expect(garden.probes.size).toBe(2)
  expect(store.readings.size).toBe(3)
  // The first message of each that waits came from an unknown one, too.
  expect(store.quarantined).toHaveLength(UNKNOWN_BURST - 2)
})
