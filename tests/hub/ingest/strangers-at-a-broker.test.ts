import mqtt from 'mqtt'
import type { MqttClient } from 'mqtt'
import { afterEach, expect, test } from 'vitest'
import { openExternalBroker } from '#hub/ingest/external-broker.ts'
import type { Front } from '#hub/ingest/front.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { createRateLimiter } from '#hub/ingest/rate-limiter.ts'
import { startBroker, type TestBroker } from '#tests/support/broker.ts'
import { memoryGarden, memoryReadings } from '#tests/support/memory-stores.ts'
import { until } from '#tests/support/until.ts'

/** What all who are new at a broker may send at once. */
const BURST = 3000
const reading = (n: number): string => `{"b":1,"n":${n},"u":${n},"v":{"m1":1}}`

const ends: (() => Promise<unknown>)[] = []
afterEach(async () => {
  for (const end of ends.splice(0).reverse()) await end()
})

/** A hub at a broker that lets everybody in, and knows some probes. */
async function open(known: readonly string[], broker?: TestBroker) {
  const there = broker ?? (await startBroker())
  if (broker === undefined) ends.push(() => there.close())
  const store = memoryReadings()
  const garden = memoryGarden()
  const notices: string[] = []
  // It stands still: nothing flows in.
  const clock = (): number => Date.UTC(2026, 4, 1)
  const log = { warn() {}, info() {} }
  const ingest = createIngest({
    readings: store.port,
    garden: garden.port,
    clock,
    log,
    known,
    maxStrangers: 2,
  })
  const limiter = createRateLimiter({ clock, onNotice: (sender) => notices.push(sender) })
  let front: Front | undefined
  const start = async (): Promise<void> => {
    front = await openExternalBroker({ url: there.url, ingest, clock, log, limiter })
    await until('the hub is at the broker', () => front?.state().state === 'up')
  }
  const stop = async (): Promise<void> => front?.stop()
  await start()
  ends.push(stop)
  const sender = async (clientId: string): Promise<MqttClient> => {
    const one = await mqtt.connectAsync(there.url, { clientId, reconnectPeriod: 0 })
    ends.push(() => one.endAsync(true))
    return one
  }
  return { broker: there, store, garden, notices, start, stop, sender }
}

test('a new name for each message opens no account of its own; probes the garden knows have theirs', async () => {
  const { broker, store, garden, notices, sender } = await open(['rook1'])
  const nobody = await sender('nobody')
  await nobody.publishAsync('lm1/rook1/up/r', reading(0), { qos: 1 })
  await until('the known probe is there', () => store.readings.size === 1)
  const flood = Array.from({ length: 2 * BURST }, (_, i) =>
    nobody.publishAsync(`lm1/s${i}x/up/r`, reading(0), { qos: 1 }),
  )
  await Promise.all(flood)
  // Behind all of them; the broker passes them on in order.
  for (let n = 1; n < 50; n++) await nobody.publishAsync('lm1/rook1/up/r', reading(n), { qos: 1 })
  // One more found room to wait.
  await until('the known probe has all', () => store.readings.size === 50 + 1)
  expect([...garden.probes.keys()]).toEqual(['rook1', 's0x'])
  expect(store.quarantined).toHaveLength(BURST - 1)
  expect(notices).toEqual([`whoever is new at ${broker.url}`])
})

test('what strangers leave at the broker counts too; what a known probe left does not', async () => {
  const { broker, store, notices, start, stop, sender } = await open(['rook1'])
  await stop()
  const gone = await sender('gone')
  // Held for the hub until it is back: far more than a probe may send at once.
  for (let n = 0; n < 200; n++) gone.publish('lm1/rook1/up/r', reading(n), { qos: 1 })
  const kept = Array.from({ length: BURST }, (_, i) =>
    gone.publishAsync(`lm1/s${i}x/up/state`, '{"s":"on","b":1,"u":1}', { qos: 1, retain: true }),
  )
  await Promise.all(kept)
  await start()
  await until('the known probe has all', () => store.readings.size === 200)
  // Both the copies that were held for the hub and those that the broker keeps.
  await until('the notice', () => notices.length === 1)
  // Behind all of them.
  await gone.publishAsync('lm1/rook1/up/r', reading(200), { qos: 1 })
  await until('what came after it', () => store.readings.size === 201)
  expect(notices).toEqual([`whoever is new at ${broker.url}`])
  expect(store.quarantined.length).toBeLessThanOrEqual(BURST)
  expect(store.quarantined.length).toBeGreaterThan(BURST / 2)
})
