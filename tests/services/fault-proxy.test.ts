import { connect, connectAsync, type IClientOptions, type MqttClient } from 'mqtt'
import { afterAll, afterEach, beforeAll, beforeEach, expect, test } from 'vitest'
import { faultProxy, type FaultProxy } from '../support/services/fault-proxy.ts'
import { startMosquitto, type Service } from '../support/services/services.ts'
import { until } from '../support/until.ts'

let broker: Service
let proxy: FaultProxy
let client: MqttClient
let comebacks: number
beforeAll(async () => {
  broker = await startMosquitto({ config: 'max_packet_size 100000' })
})
afterAll(() => broker[Symbol.asyncDispose]())

/** Keep-alive of 1 s: silence is noticed after one and a half. */
const OPTIONS: IClientOptions = {
  keepalive: 1,
  reschedulePings: false,
  reconnectPeriod: 50,
  connectTimeout: 500,
}
beforeEach(async () => {
  proxy = await faultProxy(broker)
  client = await connectAsync(`mqtt://127.0.0.1:${proxy.port}`, OPTIONS)
  client.on('error', () => {})
  comebacks = 0
  client.on('connect', () => comebacks++)
})
afterEach(async () => {
  await client.endAsync(true)
  await proxy[Symbol.asyncDispose]()
})

const isAway = (): Promise<boolean> => until('the client noticed', () => !client.connected)
const isBack = (): Promise<boolean> => until('the client is back', () => client.connected)

test('up, it passes everything on and counts it', async () => {
  await client.subscribeAsync('echo', { qos: 1 })
  const heard = new Promise<string>((resolve) =>
    client.on('message', (_, p) => resolve(p.toString())),
  )
  await client.publishAsync('echo', 'all of it', { qos: 1 })
  expect(await heard).toBe('all of it')
  expect(proxy.accepted()).toBe(1)
  expect(proxy.passed('to server')).toBeGreaterThan('all of it'.length)
  expect(proxy.passed('to client')).toBeGreaterThan('all of it'.length)
})

test('refused: what is open is reset, nobody is let in, and the port stays', async () => {
  await proxy.setLink('refused')
  await isAway()
  await expect(
    connectAsync(`mqtt://127.0.0.1:${proxy.port}`, { reconnectPeriod: 0 }),
  ).rejects.toThrow(/ECONNREFUSED/)
  await proxy.setLink('up')
  await isBack()
  expect(comebacks).toBe(1)
})

test('swallowed: connections open and nothing answers, until the keep-alive notices', async () => {
  await proxy.setLink('swallowed')
  const before = { ...{ up: proxy.passed('to server'), down: proxy.passed('to client') } }
  await isAway()
  const taken = proxy.accepted()
  await until('it tried again, and was taken', () => proxy.accepted() > taken)
  expect(client.connected).toBe(false)
  expect({ up: proxy.passed('to server'), down: proxy.passed('to client') }).toEqual(before)
  await proxy.setLink('up')
  await isBack()
})

test('deaf: what the client says arrives, the confirmation does not', async () => {
  const witness = await connectAsync(`mqtt://127.0.0.1:${broker.port}`)
  const heard: string[] = []
  witness.on('message', (_, p) => heard.push(p.toString()))
  await witness.subscribeAsync('said', { qos: 1 })
  await proxy.setLink('deaf')
  let confirmed = false
  const sent = client.publishAsync('said', 'hello', { qos: 1 }).then(() => (confirmed = true))
  await until('it arrives', () => heard.includes('hello'))
  expect(confirmed).toBe(false)
  await isAway()
  await proxy.setLink('up')
  await sent
  await until('it was sent a second time', () => heard.length === 2)
  await witness.endAsync()
})

test.each([
  ['reset', (p: FaultProxy) => p.reset()],
  ['ended', (p: FaultProxy) => p.end()],
])('%s: the client notices at once and comes back', async (_, breaks) => {
  breaks(proxy)
  await until('it came back on a new connection', () => comebacks === 1)
  expect(proxy.accepted()).toBe(2)
})

test('delayed: each way takes at least so long', async () => {
  proxy.delay(120)
  const begun = performance.now()
  await client.publishAsync('late', 'x', { qos: 1 })
  expect(performance.now() - begun).toBeGreaterThanOrEqual(235)
})

test('slow: so many bytes a second and no more', async () => {
  proxy.slow(40_000)
  const begun = performance.now()
  await client.publishAsync('slow', Buffer.alloc(20_000, 1), { qos: 1 })
  expect(performance.now() - begun).toBeGreaterThanOrEqual(480)
})

test('cut in the middle of a packet: the server got a piece of it, and the whole at the second try', async () => {
  const witness = await connectAsync(`mqtt://127.0.0.1:${broker.port}`)
  const heard: number[] = []
  witness.on('message', (_, p) => heard.push(p.length))
  await witness.subscribeAsync('big', { qos: 1 })
  const before = proxy.passed('to server')
  proxy.cutAfter(500)
  const sent = client.publishAsync('big', Buffer.alloc(4000, 65), { qos: 1 })
  await until('it has cut', () => proxy.cuts() === 1)
  expect(proxy.passed('to server') - before).toBe(500)
  await sent
  await until('it arrives', () => heard.length > 0)
  expect(heard).toEqual([4000])
  await witness.endAsync()
})

test('cut on the way back: the client gets half an answer and asks again', async () => {
  proxy.cutAfter(2, 'to client')
  const sent = client.publishAsync('half/answered', 'x', { qos: 1 })
  await until('it has cut', () => proxy.cuts() === 1)
  await sent
  expect(comebacks).toBe(1)
})

test('a server that is away is away for who comes through', async () => {
  const lone = await faultProxy({ host: '127.0.0.1', port: 1 })
  const one = connect(`mqtt://127.0.0.1:${lone.port}`, { reconnectPeriod: 0 })
  one.on('error', () => {})
  await new Promise<void>((resolve) => one.on('close', () => resolve()))
  expect(lone.accepted()).toBe(1)
  await one.endAsync(true)
  await lone[Symbol.asyncDispose]()
})
