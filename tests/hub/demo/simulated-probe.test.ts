import { connect as connectTcp, createServer, type AddressInfo, type Socket } from 'node:net'
import mqtt from 'mqtt'
import { expect, onTestFinished, test } from 'vitest'
import { startSimulatedProbe } from '#hub/demo/simulated-probe.ts'
import { demoScenario } from '#hub/simulator/demo-scenario.ts'
import { simulateGarden } from '#hub/simulator/garden-simulation.ts'
import { decode, PROBE_LIMIT_BYTES, type Decoded } from '#hub/wire/payload.ts'
import { startBroker } from '../../support/broker.ts'
import { until } from '../../support/until.ts'

const BOOT = 77

/** A way to the broker that can be cut and mended; a cut takes open connections with it. */
async function way(to: number) {
  const sockets = new Set<Socket>()
  let open = true
  const server = createServer((socket) => {
    if (!open) {
      socket.destroy()
      return
    }
    const onward = connectTcp(to, '127.0.0.1')
    for (const one of [socket, onward]) {
      sockets.add(one)
      one.on('error', () => {})
      one.on('close', () => {
        sockets.delete(one)
        socket.destroy()
        onward.destroy()
      })
    }
    socket.pipe(onward).pipe(socket)
  })
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  const cut = (): void => {
    open = false
    for (const socket of sockets) socket.destroy()
  }
  onTestFinished(() => {
    cut()
    server.close()
  })
  return {
    port: (server.address() as AddressInfo).port,
    cut,
    mend: () => void (open = true),
    /** Connections stay open and nothing passes any more. */
    stall: () => sockets.forEach((one) => one.unpipe().pause()),
  }
}

type Heard = Decoded & { readonly retain: boolean }

/** One probe of the demo on a real broker; the hub is played by the test. */
async function scene(options: { buffer?: number } = {}) {
  const broker = await startBroker()
  onTestFinished(() => broker.close())
  const hub = await mqtt.connectAsync(broker.url, { reconnectPeriod: 0 })
  onTestFinished(() => hub.endAsync(true))
  const heard: Heard[] = []
  hub.on('message', (topic, payload, packet) => {
    const message = decode(topic, payload, { strict: true })
    if ('problems' in message) throw new Error(`${topic} ${payload.toString()}`)
    expect(topic.length + payload.length).toBeLessThanOrEqual(PROBE_LIMIT_BYTES)
    heard.push({ ...message, retain: packet.retain })
  })
  await hub.subscribeAsync('lm1/+/up/#', { qos: 1 })
  const path = await way(broker.port)
  const scenario = demoScenario({ seed: 20260, now: Date.now() })
  const garden = simulateGarden(scenario)
  const { probe, measure } = garden.probe('moss1')
  const running = startSimulatedProbe({
    url: `mqtt://127.0.0.1:${path.port}`,
    probe: { ...probe, buffer: options.buffer ?? probe.buffer },
    measure,
    clock: Date.now,
    boot: BOOT,
    intervalMs: 40,
    firstAfterMs: 500,
  })
  const ended = { done: false }
  const stop = async (): Promise<void> => {
    if (ended.done) return
    ended.done = true
    await running.stop()
  }
  onTestFinished(stop)
  const of = <K extends Decoded['kind']>(kind: K): Extract<Heard, { kind: K }>[] =>
    heard.filter((one): one is Extract<Heard, { kind: K }> => one.kind === kind)
  const acknowledge = async (b: number, n: number): Promise<void> => {
    await hub.publishAsync('lm1/moss1/dn/ack', JSON.stringify({ b, n }), { qos: 1, retain: true })
  }
  return { broker, hub, path, running, stop, heard, of, acknowledge }
}

/** What the broker holds retained for a topic filter. */
async function retained(url: string, filter: string): Promise<Map<string, string>> {
  const reader = await mqtt.connectAsync(url)
  const held = new Map<string, string>()
  reader.on('message', (topic, payload, packet) => {
    if (packet.retain) held.set(topic, payload.toString())
  })
  await reader.subscribeAsync(filter, { qos: 1 })
  // Retained messages come before anything published later.
  await new Promise<void>((resolve) => {
    reader.on('message', (topic) => topic === 'test/done' && resolve())
    void reader.subscribeAsync('test/done').then(() => reader.publishAsync('test/done', ''))
  })
  await reader.endAsync()
  return held
}

test('says that it is on and what it is, then counts its readings from 0', async () => {
  const { broker, of, stop } = await scene()
  await until('readings', () => of('reading').length >= 30)
  const readings = of('reading')
  expect(readings.map(({ body }) => body.n)).toEqual(readings.map((_, i) => i))
  expect(readings.every(({ body, retain }) => body.b === BOOT && !retain)).toBe(true)
  expect(readings.every(({ body }, i) => i === 0 || body.u >= readings[i - 1]!.body.u)).toBe(true)
  const held = await retained(broker.url, 'lm1/moss1/up/#')
  expect([...held.keys()].toSorted()).toEqual([
    'lm1/moss1/up/birth',
    'lm1/moss1/up/ch/bat',
    'lm1/moss1/up/ch/m1',
    'lm1/moss1/up/ch/phmv',
    'lm1/moss1/up/ch/st',
    'lm1/moss1/up/state',
  ])
  expect(JSON.parse(held.get('lm1/moss1/up/state')!)).toMatchObject({ s: 'on', b: BOOT })

  await stop()
  const count = of('reading').length
  const after = await retained(broker.url, 'lm1/moss1/up/state')
  expect(JSON.parse(after.get('lm1/moss1/up/state')!)).toEqual({ s: 'off', b: BOOT })
  expect(of('reading').length, 'nothing comes after the goodbye').toBe(count)
})

test('frees what an acknowledgement of its own boot covers, and nothing for another', async () => {
  const { running, of, acknowledge } = await scene()
  await until('readings', () => of('reading').length >= 20)
  await acknowledge(BOOT - 1, 1000)
  const before = of('reading').at(-1)!.body.n
  await until('more readings', () => of('reading').length > before + 10)
  expect(running.unacknowledged()).toBeGreaterThan(before + 5)
  const covered = of('reading').at(-1)!.body.n
  await acknowledge(BOOT, covered)
  await until('it is freed', () => running.unacknowledged() < covered / 2)
  // What it took after `covered` it keeps.
  const sent = of('reading').at(-1)!.body.n
  expect(running.unacknowledged()).toBeGreaterThanOrEqual(sent - covered)
})

test('is declared off when it vanishes; comes back with all it held, in batches, oldest first', async () => {
  const { broker, path, running, of, acknowledge } = await scene()
  await until('readings', () => of('reading').length >= 10)
  await acknowledge(BOOT, 4)
  await until('it is freed', () => running.unacknowledged() < of('reading').at(-1)!.body.n - 2)
  path.cut()
  await until('the will', () => of('state').some(({ body }) => body.s === 'off'))
  const live = of('reading').at(-1)!.body.n
  const before = running.unacknowledged()
  await until('readings pile up', () => running.unacknowledged() > before + 10)
  expect(of('batch')).toEqual([])
  path.mend()
  const first = await until('a batch', () => of('batch')[0])
  expect(of('state').at(-1)!.body.s).toBe('on')
  expect(first.body.r[0]![0], 'starts with the oldest it holds').toBe(5)
  expect(first.body.r.at(-1)![1]).toBeLessThanOrEqual(first.body.u)

  // One batch waits for its answer before the next is sent.
  const more = of('reading').at(-1)!.body.n + 30
  await until('time passes', () => of('reading').at(-1)!.body.n > more)
  expect(of('batch')).toHaveLength(1)
  const got = new Set<number>()
  for (let answered = 0; answered < 12; answered++) {
    const batch = await until('the next batch', () => of('batch')[answered])
    for (const row of batch.body.r) got.add(row[0]!)
    const top = batch.body.r.at(-1)![0]!
    await acknowledge(BOOT, top)
    if (top > live) break
  }
  for (const { body } of of('reading')) got.add(body.n)
  const missing = Array.from({ length: live }, (_, n) => n).filter((n) => n > 4 && !got.has(n))
  expect(missing).toEqual([])
  const after = await retained(broker.url, 'lm1/moss1/up/state')
  expect(JSON.parse(after.get('lm1/moss1/up/state')!)).toMatchObject({ s: 'on' })
}, 40_000)

test('keeps the newest when an outage outlasts its memory', async () => {
  const { path, running, of } = await scene({ buffer: 12 })
  await until('readings', () => of('reading').length >= 3)
  path.cut()
  const last = of('reading').at(-1)!.body.n
  await until('its memory is full', () => running.unacknowledged() === 12)
  path.mend()
  const batch = await until('a batch', () => of('batch')[0])
  expect(batch.body.r[0]![0]).toBeGreaterThan(last - 12)
  expect(running.unacknowledged()).toBe(12)
})

test('stops at once when the broker is gone, and within seconds when it does not answer', async () => {
  const gone = await scene()
  await until('readings', () => gone.of('reading').length >= 3)
  gone.path.cut()
  await gone.stop()

  const mute = await scene()
  await until('readings', () => mute.of('reading').length >= 3)
  // A broker that holds every answer back, as the hub does while it cannot store.
  mute.path.stall()
  await mute.stop()
})
