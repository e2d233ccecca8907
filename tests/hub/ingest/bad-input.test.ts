import mqtt from 'mqtt'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { openEmbeddedBroker } from '#hub/ingest/embedded-broker.ts'
import { openExternalBroker } from '#hub/ingest/external-broker.ts'
import type { Front } from '#hub/ingest/front.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { openStores } from '#hub/store/open.ts'
import type { Stores } from '#hub/store/open.ts'
import { startBroker } from '#tests/support/broker.ts'
import type { TestBroker } from '#tests/support/broker.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

/*
 * Everything a probe can get wrong, over real MQTT into the real store: each message is either kept aside
 * with a reason that tells its author what to change, or stored at the right time. Nothing else happens.
 */

const MINUTE = 60_000
/** 2026-05-28T20:26:40Z */
const T0 = 1_780_000_000_000
const TOPIC = 'lm1/bed3a/up/r'
const reading = (n: number, rest = ''): string =>
  `{"b":1,"n":${n},"u":${n * 60}${rest},"v":{"m1":${n}}}`

const KEPT_ASIDE: readonly (readonly [string, string, string | Buffer, RegExp])[] = [
  ['broken JSON', TOPIC, '{"b":1,"n":900,"u":1,"v":{"m1":', /stops in the middle.*LM-10/],
  ['trailing comma', TOPIC, '{"b":1,"n":901,"u":1,"v":{"m1":5,}}', /comma before a closing.*LM-10/],
  ['NaN', TOPIC, '{"b":1,"n":902,"u":1,"v":{"phmv":NaN}}', /no NaN or infinity.*null.*LM-10/],
  ['number as text', TOPIC, '{"b":1,"n":903,"u":1,"v":{"m1":"1873"}}', /without quotes.*LM-10/],
  ['wrong type', TOPIC, '{"b":1,"n":904,"u":1,"v":{"m1":{}}}', /v\.m1: expected a number.*LM-10/],
  ['wrong type of a counter', TOPIC, '{"b":1,"n":[9],"u":1,"v":{"m1":1}}', /n: expected.*LM-11/],
  ['no object', TOPIC, '[1,2,3]', /expected one JSON object.*LM-10/],
  ['nothing', TOPIC, '', /got nothing.*LM-10/],
  ['other bytes', TOPIC, Buffer.from([0xff, 0xfe, 0x00, 0x80]), /expected UTF-8.*LM-10/],
  ['a member of every object', TOPIC, '{"b":1,"n":905,"u":1,"v":{"__proto__":1}}', /LM-10/],
  ['unknown topic', 'lm1/bed3a/up/temperature', '21.5', /expected up\/ with r, b,.*LM-30/],
  ['clock of 1970', TOPIC, reading(906, ',"t":86460'), /t: expected.*unset clock.*LM-14/],
  ['milliseconds', TOPIC, reading(907, ',"t":1780000000000'), /t: .*milliseconds.*LM-14/],
]

describe.each(['embedded', 'external'] as const)('%s front', (kind) => {
  let folder: ReturnType<typeof tempDir>
  let stores: Stores
  let broker: TestBroker | undefined
  let front: Front
  let probe: mqtt.MqttClient
  let now: number
  let said: string[]

  beforeEach(async () => {
    folder = tempDir()
    now = T0
    said = []
    stores = await openStores(folder.path)
    const clock = (): number => now
    const log = { warn: (text: string) => said.push(text), info: () => {} }
    const { readings, garden } = stores
    const ingest = createIngest({ readings, garden, clock, log })
    if (kind === 'embedded') {
      front = await openEmbeddedBroker({ host: '127.0.0.1', port: 0, ingest, clock, log })
    } else {
      broker = await startBroker()
      front = await openExternalBroker({ url: broker.url, ingest, clock, log })
      await until('the hub is up', () => front.state().state === 'up')
    }
    probe = await connect('bed3a')
  })
  afterEach(async () => {
    await probe.endAsync(true)
    await front.stop()
    await broker?.close()
    broker = undefined
    await stores.close()
    folder[Symbol.dispose]()
  })

  function connect(clientId: string): Promise<mqtt.MqttClient> {
    return mqtt.connectAsync(front.address, { clientId, protocolVersion: 4, reconnectPeriod: 0 })
  }
  const counts = () => stores.readings.settle().then(() => stores.readings.counts())
  async function stored(): Promise<[number, number][]> {
    await stores.readings.settle()
    const [rows] = await stores.readings.buckets([
      { probe: 'bed3a', channel: 'm1', from: 0, to: 1e13, step: 'raw' },
    ])
    return Array.from(rows?.time ?? [], (time, i) => [rows?.mean[i] ?? NaN, time - T0])
  }
  /** Sends live reading `n` at minute `n` of the hub's clock. */
  async function live(n: number, rest = ''): Promise<void> {
    now = T0 + n * MINUTE
    await probe.publishAsync(TOPIC, reading(n, rest), { qos: 1 })
    await until(`reading ${n} is stored`, async () => (await counts()).readings === n + 1)
  }

  test('each is kept aside as it came, with the reason; the readings around them are stored', async () => {
    await live(0)
    for (const [, topic, payload] of KEPT_ASIDE)
      await probe.publishAsync(topic, payload, { qos: 1 })
    await until(
      'all are kept aside',
      async () => (await counts()).quarantined === KEPT_ASIDE.length,
    )
    await live(1)

    const rows = (await stores.readings.quarantine(100)).toReversed()
    expect(rows).toHaveLength(KEPT_ASIDE.length)
    for (const [i, [name, topic, payload, reason]] of KEPT_ASIDE.entries()) {
      const row = rows[i]!
      expect(row.topic, name).toBe(topic)
      expect(Buffer.from(row.payload), name).toEqual(Buffer.from(payload))
      expect(row.reason, name).toMatch(reason)
      expect(row.arrivedAt, name).toBe(T0)
    }
    expect(await stored()).toEqual([
      [0, 0],
      [1, MINUTE],
    ])
    expect(said.length).toBeGreaterThan(5)
    expect(front.state()).toMatchObject({ state: 'up', problem: null })
  })

  test('a clock from 2100, an hour off, half a minute off, and none: stored at the right time', async () => {
    await live(0)
    const at = (n: number, offS: number): string => `,"t":${(T0 + n * MINUTE) / 1000 + offS}`
    await live(1, ',"t":4102444800')
    await live(2, at(2, -3600))
    await live(3, at(3, 3600))
    await live(4, at(4, -30))
    expect(await stored()).toEqual([
      [0, 0],
      [1, MINUTE],
      [2, 2 * MINUTE],
      [3, 3 * MINUTE],
      [4, 4 * MINUTE - 30_000],
    ])
    expect(await counts()).toMatchObject({ quarantined: 0 })
  })

  test('too large: what fits a packet is taken and noted, what does not ends that connection alone', async () => {
    await probe.publishAsync(TOPIC, reading(0).padEnd(3000), { qos: 1 })
    await until('the padded one is stored', async () => (await counts()).readings === 1)
    expect(said.join('\n')).toMatch(/at most 249 bytes together, got 3014 \[LM-03\]/)

    const flooder = await connect('flood1')
    flooder.on('error', () => {})
    const closed = new Promise((resolve) => flooder.once('close', () => resolve(null)))
    flooder.publish('lm1/flood1/up/r', Buffer.alloc(100_000, 0x20), { qos: 1 })
    await closed
    await live(1)
    expect(await counts()).toMatchObject({ readings: 2, quarantined: 0 })
    expect((await stores.garden.probes()).map(({ id }) => id)).toEqual(['bed3a'])
  })
})

test('at the embedded broker a topic outside the tree is kept aside too', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  const log = { warn: () => {}, info: () => {} }
  const ingest = createIngest({ ...stores, clock: () => T0, log })
  const front = await openEmbeddedBroker({
    host: '127.0.0.1',
    port: 0,
    ingest,
    clock: () => T0,
    log,
  })
  const client = await mqtt.connectAsync(front.address, { protocolVersion: 4, reconnectPeriod: 0 })
  try {
    await client.publishAsync('garden/bed3/ph', '6.8', { qos: 1 })
    const [row] = await stores.readings.quarantine(5)
    expect(row).toMatchObject({
      topic: 'garden/bed3/ph',
      reason: expect.stringMatching(/probes write below lm1\/\{id\}\/up\/ only.*LM-30/),
    })
    expect(client.connected).toBe(true)
  } finally {
    await client.endAsync(true)
    await front.stop()
    await stores.close()
  }
})
