import { join } from 'node:path'
import mqtt from 'mqtt'
import type { MqttClient } from 'mqtt'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { openEmbeddedBroker } from '#hub/ingest/embedded-broker.ts'
import { accessFile } from '#hub/ingest/broker-files.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { createRateLimiter } from '#hub/ingest/rate-limiter.ts'
import { healthOf, serveHealth } from '#hub/relay/ingest-health.ts'
import type { IngestHealth } from '#hub/relay/ingest-health.ts'
import { openIngestRole } from '#hub/relay/open-ingest-role.ts'
import type { IngestRole } from '#hub/relay/open-ingest-role.ts'
import { openSpoolStore } from '#hub/store/sqlite/open-spool-store.ts'
import { startBroker } from '#tests/support/broker.ts'
import type { TestBroker, TestBrokerOptions } from '#tests/support/broker.ts'
import { memoryIntakeLog } from '#tests/support/memory-intake-log.ts'
import type { MemoryIntakeLog } from '#tests/support/memory-intake-log.ts'
import { memoryGarden, memoryReadings } from '#tests/support/memory-stores.ts'
import { freePort } from '#tests/support/ports.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

let folder: ReturnType<typeof tempDir>
let broker: TestBroker | undefined
let intake: MemoryIntakeLog
let clients: MqttClient[]
let ends: (() => Promise<unknown>)[]
let said: string[]
let spools: number

beforeEach(() => {
  folder = tempDir()
  intake = memoryIntakeLog()
  clients = []
  ends = []
  said = []
  spools = 0
})
afterEach(async () => {
  await Promise.all(clients.map((client) => client.endAsync(true)))
  for (const end of ends.toReversed()) await end()
  await broker?.close()
  broker = undefined
  folder[Symbol.dispose]()
})

async function startMosquitto(options: TestBrokerOptions = {}): Promise<string> {
  broker = await startBroker(options)
  return broker.url
}

async function role(
  url: string,
  clientId: string,
  options: { readonly username?: string; readonly spool?: string; readonly group?: string } = {},
): Promise<IngestRole & { end(): Promise<void> }> {
  const file = join(folder.path, options.spool ?? `spool${++spools}.db`)
  const spool = await openSpoolStore(file, {
    onDeath(error) {
      throw error
    },
  })
  const opened = await openIngestRole({
    spool,
    intake: intake.port,
    broker: { url, ...(options.username === undefined ? {} : { username: options.username }) },
    clientId,
    group: options.group ?? 'garden',
    limiter: createRateLimiter({ clock: Date.now, scale: 0, onNotice() {} }),
    clock: Date.now,
    log: {
      warn: (text) => said.push(`NOTE ${text}`),
      info: (text) => said.push(text),
    },
    forwarding: { backOffMs: { first: 5, last: 20 }, lookEveryMs: 10 },
  })
  let ended = false
  const end = async (): Promise<void> => {
    if (ended) return
    ended = true
    await opened.stop()
  }
  ends.push(end)
  return { ...opened, end }
}
const up = (one: IngestRole): Promise<unknown> =>
  until('it listens', async () => (await one.state()).broker.state === 'up')
const kept = async (one: IngestRole): Promise<number> => (await one.state()).kept

async function probe(url: string, id = 'fern1'): Promise<MqttClient> {
  const client = await mqtt.connectAsync(url, {
    clientId: id,
    username: id,
    protocolVersion: 4,
    reconnectPeriod: 0,
  })
  client.on('error', () => {})
  clients.push(client)
  return client
}
const send = (client: MqttClient, n: number, leaf = 'r'): Promise<unknown> =>
  client.publishAsync(`lm1/fern1/up/${leaf}`, `{"b":1,"n":${n},"u":3,"v":{"st":17}}`, { qos: 1 })
const logged = (): string[] =>
  intake.names().flatMap((name) => intake.rows(name).map((row) => `${name.writer} ${row}`))

test('processes of a group share readings and batches, and take nothing else', async () => {
  const url = await startMosquitto()
  const [one, two] = [await role(url, 'in-1'), await role(url, 'in-2')]
  await up(one)
  await up(two)
  const client = await probe(url)
  for (let n = 0; n < 40; n++) await send(client, n)
  await send(client, 40, 'b')
  for (const leaf of ['state', 'birth', 'res', 's', 'ch/ph', 'v/ph'])
    await client.publishAsync(`lm1/fern1/up/${leaf}`, '{}', { qos: 1 })
  await until('all are in the log', () => logged().length === 41)
  expect(new Set(logged()).size).toBe(41)
  expect(await kept(one)).toBeGreaterThan(10)
  expect(await kept(two)).toBeGreaterThan(10)
  expect((await kept(one)) + (await kept(two))).toBe(41)
})

test('what the broker held for a process while it was away is marked as late, what comes after is not', async () => {
  const url = await startMosquitto()
  const first = await role(url, 'in-1', { spool: 'one.db' })
  await up(first)
  await first.end()
  const client = await probe(url)
  await send(client, 0)
  const again = await role(url, 'in-1', { spool: 'one.db' })
  await up(again)
  await until('it came', () => logged().length === 1)
  // Its own word comes behind the backlog, on a topic of its own.
  const words: string[] = []
  const listener = await probe(url, 'listener')
  listener.on('message', (topic, payload) => words.push(`${topic} ${payload.toString()}`))
  await listener.subscribeAsync('lm1/hub/#')
  await until('it says that it is there', () => words.length > 0)
  expect(words).toEqual(['lm1/hub/ingest/in-1 {"s":"on"}'])
  await send(client, 1)
  await until('the next one came', () => logged().length === 2)
  const name = intake.names()[0]!
  const rows = await intake.port.after(name, 0, 10)
  expect(rows.map(({ mayBeDelayed }) => mayBeDelayed)).toEqual([true, false])
})

test('the access list for mosquitto lets ingest processes share and hear their own word', async () => {
  const url = await startMosquitto({ acl: accessFile('hub').split('\n') })
  const one = await role(url, 'in-1', { username: 'hub' })
  await up(one)
  const client = await probe(url)
  await send(client, 0)
  await until('it came', () => logged().length === 1)
  await one.end()
  await send(client, 1)
  const again = await role(url, 'in-1', { username: 'hub', spool: 'spool1.db' })
  await up(again)
  await until('what was held came', () => logged().length === 2)
  await until('its own word came back: no longer late', async () => {
    await send(client, 2)
    const rows = await intake.port.after(intake.names()[0]!, 0, 1000)
    return rows.at(-1)?.mayBeDelayed === false
  })
})

test('a process that changed its group is dealt nothing of the former any more', async () => {
  const url = await startMosquitto()
  const before = await role(url, 'in-1', { spool: 'one.db' })
  await up(before)
  await before.end()
  const after = await role(url, 'in-1', { spool: 'one.db', group: 'other' })
  await up(after)
  const client = await probe(url)
  for (let n = 0; n < 5; n++) await send(client, n)
  await until('they came', () => logged().length >= 5)
  // A copy for the former group would have been handed over before this one.
  await send(client, 5)
  await until('the last one came', () => logged().length >= 6)
  expect(await kept(after)).toBe(6)
})

test('two processes under one client id: it is said, and neither overwrites what the other took', async () => {
  const url = await startMosquitto()
  const one = await role(url, 'in-1')
  await up(one)
  const client = await probe(url)
  for (let n = 0; n < 5; n++) await send(client, n)
  await until('five came', () => logged().length === 5)
  const two = await role(url, 'in-1')
  await up(two)
  // Its broker gives no reason; three times in a row is one.
  const problem =
    `broker ${url} closed the connection again and again. Does another program sign in there as in-1? ` +
    'Each needs a LOAMLINE_BROKER_CLIENT_ID of its own'
  await until('one of them says so, and leaves the other alone for a while', () =>
    said.some((text) => text.includes(problem)),
  )
  const problems = await Promise.all(
    [one, two].map(async (each) => (await each.state()).broker.problem),
  )
  expect(problems).toContain(problem)
  for (let n = 5; n < 12; n++) await send(client, n)
  await until('all came', () => logged().length === 12, 60_000)
  expect(intake.names()).toHaveLength(2)
})

test('a broker without MQTT 5 cannot share, and it is said why', async () => {
  const port = await freePort()
  const quiet = { warn() {}, info() {} }
  const ingest = createIngest({
    readings: memoryReadings().port,
    garden: memoryGarden().port,
    clock: Date.now,
    log: quiet,
  })
  const embedded = await openEmbeddedBroker({
    host: '127.0.0.1',
    port,
    ingest,
    clock: Date.now,
    log: quiet,
  })
  ends.push(() => embedded.stop())
  const one = await role(`mqtt://127.0.0.1:${port}`, 'in-1')
  await until('it says why', async () => (await one.state()).broker.problem)
  expect((await one.state()).broker.problem).toMatch(/does not speak MQTT 5/)
})

test('its health: what it took, what waits, why, on one address and nothing else', async () => {
  const url = await startMosquitto()
  const one = await role(url, 'in-1')
  await up(one)
  const port = await freePort()
  const options = {
    host: '127.0.0.1',
    port,
    role: one,
    version: '1.2.3',
    clientId: 'in-1',
    clock: Date.now,
    freeBytes: async () => 5,
    answersTo: (host: string) => host === `127.0.0.1:${port}`,
    onTrouble(error: unknown) {
      throw error
    },
  }
  const health = await serveHealth(options)
  ends.push(() => health.stop())
  const ask = async (): Promise<IngestHealth> =>
    (await (await fetch(`http://127.0.0.1:${port}/api/health`)).json()) as IngestHealth

  const client = await probe(url)
  await send(client, 0)
  await until('it is in the log', () => logged().length === 1)
  expect(await ask()).toMatchObject({
    role: 'ingest',
    status: 'ok',
    version: '1.2.3',
    clientId: 'in-1',
    broker: { state: 'up', address: url, problem: null },
    spool: { state: 'up', kept: 1, freeBytes: 5 },
    forwarding: { state: 'up', waiting: 0, oldestAt: null, notTaken: 1, served: false },
  })
  intake.away = true
  await send(client, 1)
  const troubled = await until('the log is away', async () => {
    const now = await ask()
    return now.forwarding.problem === null ? null : now
  })
  expect(troubled).toMatchObject({
    status: 'trouble',
    spool: { kept: 2 },
    forwarding: { state: 'down', problem: 'the database is away.', waiting: 1 },
  })
  expect(troubled.spool.bytes).toBeGreaterThan(4096)
  // The interface knows whole milliseconds only.
  expect(Number.isInteger(troubled.forwarding.nextTryAt)).toBe(true)
  expect(troubled.forwarding.oldestAt).toBeLessThanOrEqual(Date.now())

  const other = await fetch(`http://127.0.0.1:${port}/api/beds`)
  expect(other.status).toBe(404)
  const post = await fetch(`http://127.0.0.1:${port}/api/health`, { method: 'POST', body: 'x' })
  expect(post.status).toBe(405)
  // A page of another site can have its own name lead here.
  const otherName = await fetch(`http://localhost:${port}/api/health`)
  expect(otherName.status).toBe(421)
  expect(await otherName.text()).toContain('LOAMLINE_HTTP_NAMES')
  await expect(serveHealth(options)).rejects.toMatchObject({ code: 'HUB_PORT_IN_USE' })
  intake.away = false
  await until('it is well again', async () => (await ask()).status === 'ok')
})

test('health is trouble while anything of it is', async () => {
  const url = await startMosquitto()
  const state = await (await role(url, 'in-1')).state()
  const facts = { version: '1', startedAt: 0, now: 1, clientId: 'a', address: url, freeBytes: null }
  const well = { ...state, broker: { state: 'up', since: 0, problem: null } } as const
  expect(healthOf(well, facts).status).toBe('ok')
  const down = { state: 'down', since: 0, problem: 'away' } as const
  expect(healthOf({ ...well, broker: down }, facts).status).toBe('trouble')
  expect(healthOf({ ...well, taking: down }, facts).status).toBe('trouble')
  const forwarding = { ...well.forwarding, problem: 'away' }
  expect(healthOf({ ...well, forwarding }, facts)).toMatchObject({
    status: 'trouble',
    forwarding: { state: 'down' },
  })
})
