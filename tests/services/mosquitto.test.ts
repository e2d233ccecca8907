import { connect as open, connectAsync, type MqttClient } from 'mqtt'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { backend, startMosquitto, type Service } from '../support/services/services.ts'
import { until } from '../support/until.ts'

let broker: Service
beforeAll(async () => {
  broker = await startMosquitto()
})
afterAll(() => broker[Symbol.asyncDispose]())

const connect = (
  port: number,
  more: Parameters<typeof connectAsync>[1] = {},
): Promise<MqttClient> =>
  connectAsync(`mqtt://127.0.0.1:${port}`, {
    reconnectPeriod: 100,
    connectTimeout: 1000,
    ...more,
  })

/** A client whose session the broker keeps while it is away. */
const SESSION = { clientId: 'one-that-comes-back', clean: false } as const

test('it is run the way that was asked for', async () => {
  const asked = process.env['TEST_SERVICES'] ?? 'auto'
  expect(broker.backend).toBe(await backend())
  if (asked !== 'auto') expect(broker.backend).toBe(asked)
})

test('what waits for a session outlives a polite stop, on the same port', async () => {
  const port = broker.port
  const away = await connect(port, SESSION)
  await away.subscribeAsync('waits/#', { qos: 1 })
  await away.endAsync()
  const other = await connect(port)
  await other.publishAsync('waits/for', 'it', { qos: 1 })
  await other.endAsync()

  await broker.stop()
  await expect(connect(port, { reconnectPeriod: 0 })).rejects.toThrow(
    /ECONNREFUSED|connack|closed/i,
  )
  await broker.start()
  expect(broker.port).toBe(port)

  const heard: string[] = []
  const again = open(`mqtt://127.0.0.1:${port}`, SESSION)
  again.on('message', (topic, payload) => heard.push(`${topic} ${payload.toString()}`))
  await until('what waited comes', () => heard.includes('waits/for it'))
  await again.endAsync()
})

test('killed, it drops its clients at once; started again, they come back by themselves', async () => {
  const client = await connect(broker.port)
  let comebacks = 0
  client.on('connect', () => comebacks++)
  await broker.kill()
  await until('the client noticed', () => !client.connected)
  await broker.start()
  await until('the client is back', () => comebacks === 1)
  await client.endAsync(true)
})

test('frozen, it answers nothing and keeps its connections; thawed, it goes on', async () => {
  const client = await connect(broker.port, { reconnectPeriod: 0 })
  let answered = false
  await broker.freeze()
  const sent = client.publishAsync('while/frozen', 'x', { qos: 1 }).then(() => (answered = true))
  await expect(connect(broker.port, { reconnectPeriod: 0 })).rejects.toThrow(/connack timeout/)
  expect(answered).toBe(false)
  expect(client.connected).toBe(true)
  await broker.thaw()
  await sent
  expect(answered).toBe(true)
  await client.endAsync()
})

test('files it is given lie where its configuration says, and are read anew when told', async () => {
  await using closed = await startMosquitto({
    config: 'allow_anonymous false\nacl_file {files}/who\npassword_file {files}/passwords',
    files: { who: 'user somebody\ntopic readwrite open/#\n', passwords: '' },
  })
  await expect(connect(closed.port, { reconnectPeriod: 0 })).rejects.toThrow(/authori[sz]ed/i)
  await closed.hangUp()
  await until('it read its files again', async () =>
    (await closed.log()).includes('Reloading config'),
  )
})

test('what it already is it stays; what needs one that runs says so', async () => {
  await using service = await startMosquitto()
  await expect(service.start()).rejects.toThrow('mosquitto runs already')
  await service.thaw()
  await service.freeze()
  await service.freeze()
  await service.thaw()
  await service.stop()
  await service.stop()
  await service.kill()
  for (const act of ['freeze', 'thaw', 'hangUp'] as const)
    await expect(service[act]()).rejects.toThrow('expected a mosquitto that runs')
  await service.start()
})

test('a frozen one can be killed, and started again', async () => {
  await using service = await startMosquitto()
  await service.freeze()
  await service.kill()
  await service.start()
  const client = await connect(service.port)
  await client.endAsync()
})

test('one that cannot start says what it said', async () => {
  await expect(startMosquitto({ config: 'no_such_setting true' })).rejects.toThrow(
    /mosquitto ended before it was ready:[^]*no_such_setting/,
  )
})
