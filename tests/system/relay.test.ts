import mqtt from 'mqtt'
import type { MqttClient } from 'mqtt'
import { cpSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import type { Health } from '#hub/api/schemas/health.ts'
import type { ProbeDetail } from '#hub/api/schemas/probe-account.ts'
import { runFleet } from '#hub/demo/fleet.ts'
import { fleetScenario } from '#hub/simulator/fleet-scenario.ts'
import { startHub } from '#tests/support/hub-process.ts'
import type { HubProcess } from '#tests/support/hub-process.ts'
import { startIngestProcess } from '#tests/support/ingest-process.ts'
import type { IngestProcess } from '#tests/support/ingest-process.ts'
import { loadValues, startLoad } from '#tests/support/load.ts'
import { seededRandom } from '#tests/support/random.ts'
import { startInfluxd, startMosquitto } from '#tests/support/services/services.ts'
import type { Service } from '#tests/support/services/services.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

/*
 * A hub of several processes, each a real one, between a real mosquitto and a real InfluxDB: three that take
 * readings in and one that serves. What the broker has confirmed to a probe is in the hub once, whichever of
 * them dies.
 */

const PROBES = 6
const KILLS = 2
/** What is lost now and then is lost: no second try anywhere. */
const ONCE = { timeout: 120_000, retry: 0 } as const

let folder: ReturnType<typeof tempDir>
let influxd: Service
let broker: Service
let open: AsyncDisposable[]

beforeEach(async () => {
  folder = tempDir()
  open = []
  ;[influxd, broker] = await Promise.all([startInfluxd(), startMosquitto()])
})
afterEach(async () => {
  for (const one of open.toReversed()) await one[Symbol.asyncDispose]()
  await influxd?.[Symbol.asyncDispose]()
  await broker?.[Symbol.asyncDispose]()
  folder[Symbol.dispose]()
})

const url = (): string => `mqtt://127.0.0.1:${broker.port}`
const env = (): Record<string, string> => ({
  LOAMLINE_BROKER_URL: url(),
  LOAMLINE_INFLUX_URL: `http://127.0.0.1:${influxd.port}`,
  LOAMLINE_PROBE_LIMIT: '0',
})

async function ingest(number: number): Promise<IngestProcess> {
  const one = await startIngestProcess(join(folder.path, `in${number}`), `in-${number}`, env())
  open.push(one)
  return one
}
async function serve(): Promise<HubProcess> {
  const hub = await startHub('start', join(folder.path, 'hub'), {
    ...env(),
    LOAMLINE_ROLE: 'serve',
  })
  open.push(hub)
  return hub
}
const healthOf = (hub: HubProcess): Promise<Health> => hub.get<Health>('/api/health')

/** Every reading of a probe as the hub's own export tells it, by channel, ascending. */
async function valuesOf(hub: HubProcess, probe: string): Promise<Record<string, number[]>> {
  const answer = await fetch(`${hub.url}/api/export/readings.csv?probe=${probe}&layout=long`)
  const text = await answer.text()
  if (!answer.ok) throw new Error(`${answer.status} ${text}`)
  const values: Record<string, number[]> = {}
  for (const row of text.trim().split(/\r?\n/).slice(1)) {
    const [, , channel = '', value] = row.split(',')
    ;(values[channel] ??= []).push(Number(value))
  }
  for (const all of Object.values(values)) all.sort((x, y) => x - y)
  return values
}

test(
  'three processes take readings in; one of them and the serving hub are killed in the middle: every reading once',
  ONCE,
  async () => {
    const random = seededRandom(21)
    let hub = await serve()
    const [one, ...others] = await Promise.all([ingest(1), ingest(2), ingest(3)])
    let first = one
    const load = await startLoad({ url: url(), probes: PROBES, perTick: 1, window: 50 })
    open.push({ [Symbol.asyncDispose]: () => load.close() })
    for (let kill = 0; kill < KILLS; kill++) {
      const enough = 200 + random() * 300
      const alive = first
      await until(
        'it takes its share',
        async () => (await alive.health()).spool.kept > enough,
        20_000,
      )
      await first.end('SIGKILL')
      const goneAt = load.acknowledgedCount()
      await until('the others go on', () => load.acknowledgedCount() > goneAt + 300, 20_000)
      first = await ingest(1)
    }
    // What it had taken and not noted as taken it takes again, and knows it.
    await hub.end('SIGKILL')
    hub = await serve()
    await load.finish()
    const all = load.acknowledgedCount()
    const health = await until(
      'everything is in the hub',
      async () => {
        const now = await healthOf(hub)
        return now.counts.readings >= all ? now : null
      },
      30_000,
    )
    expect(health.counts).toMatchObject({ readings: all, quarantined: 0, lost: 0 })
    expect(health.intakeLog).toMatchObject({ state: 'up', problem: null })
    expect(health.intakeLog!.logs.map(({ writer }) => writer).toSorted()).toEqual([
      'in-1',
      'in-2',
      'in-3',
    ])
    for (const probe of load.probes) {
      const sent = Array.from({ length: load.acknowledged(probe).size }, (_, n) => loadValues(n))
      const have = await valuesOf(hub, probe)
      for (const channel of ['m1', 'st'] as const) {
        const expected = sent.map((values) => values[channel])
        const lost = expected.filter((value) => have[channel]?.includes(value) !== true)
        expect({ lost, count: have[channel]?.length }, `${probe} ${channel}`).toEqual({
          lost: [],
          count: sent.length,
        })
      }
    }
    for (const each of [first, ...others])
      expect(await each.health()).toMatchObject({ status: 'ok', forwarding: { waiting: 0 } })
    expect(await first.end()).toBe(0)
    expect(await hub.end()).toBe(0)
  },
)

test(
  'one is killed and stays away: probes send again what it took with it, and the others take it',
  ONCE,
  async () => {
    const hub = await serve()
    const [first] = await Promise.all([ingest(1), ingest(2), ingest(3)])
    const acknowledged = await hearAcknowledgements()
    const scenario = fleetScenario({
      seed: 5,
      count: 2,
      prefix: 'sage',
      now: Date.now(),
      clockError: 0,
      buffer: 400,
      faultsOf: () => [],
    })
    const ids = scenario.probes.map(({ id }) => id)
    const fleet = runFleet({
      url: url(),
      scenario,
      clock: Date.now,
      intervalMs: 300,
      lose: 0,
      passwords: new Map(),
      resendAfterMs: 500,
    })
    let measuring = true
    const stopProbes = async (): Promise<void> => {
      if (measuring) await fleet.stop()
      measuring = false
    }
    open.push({ [Symbol.asyncDispose]: stopProbes })
    await until(
      'readings are acknowledged',
      () => ids.every((id) => (acknowledged(id) ?? 0) > 5),
      20_000,
    )
    await first.end('SIGKILL')
    const at = Math.max(...ids.map((id) => acknowledged(id) ?? 0))
    // The broker goes on keeping a third of the readings for the one that is away.
    await until(
      'acknowledging goes on',
      () => ids.every((id) => (acknowledged(id) ?? 0) > at + 15),
      40_000,
    )
    for (const id of ids) {
      const { account } = await hub.get<ProbeDetail>(`/api/probes/${id}`)
      expect(account.total, id).toMatchObject({ writtenOff: 0, conflicting: 0 })
      expect(account.total.late, id).toBeGreaterThan(1)
    }

    await stopProbes()
    // Back at last, with what was in its spool and what the broker held: all of it is there already.
    const again = await ingest(1)
    for (const id of ids) {
      const total = await until(
        'what it held came once more, and is known',
        async () => {
          const { account } = await hub.get<ProbeDetail>(`/api/probes/${id}`)
          return account.total.duplicates > 0 ? account.total : null
        },
        20_000,
      )
      expect(total, id).toMatchObject({ writtenOff: 0, conflicting: 0 })
    }
    await until(
      'its spool has handed all on',
      async () => (await again.health()).forwarding.waiting === 0,
    )
    expect((await healthOf(hub)).counts).toMatchObject({ quarantined: 0, lost: 0 })
  },
)

test(
  'InfluxDB is away and a process dies meanwhile: readings are taken all the same and come through after it',
  ONCE,
  async () => {
    const hub = await serve()
    const first = await ingest(1)
    const load = await startLoad({ url: url(), probes: 2, perTick: 1, window: 20 })
    open.push({ [Symbol.asyncDispose]: () => load.close() })
    await until(
      'readings come through',
      async () => (await healthOf(hub)).counts.readings > 50,
      20_000,
    )

    await influxd.stop()
    const before = load.acknowledgedCount()
    const away = await until(
      'it is told, and readings go on being taken',
      async () => {
        const now = await first.health()
        return now.forwarding.problem !== null && load.acknowledgedCount() > before + 300
          ? now
          : null
      },
      20_000,
    )
    expect(away).toMatchObject({
      status: 'trouble',
      spool: { state: 'up' },
      broker: { state: 'up' },
    })
    expect(away.forwarding.waiting).toBeGreaterThan(0)
    expect(away.forwarding.problem).toMatch(/InfluxDB at .* cannot be reached/)
    expect(first.output()).toMatch(/messages wait in the spool \(\d+ KiB on the disk\)/)
    const told = await until('the hub says so too', async () => {
      const { intakeLog, status } = await healthOf(hub)
      return intakeLog!.state === 'down' && status === 'trouble' ? intakeLog : null
    })
    expect(told.problem).toMatch(/InfluxDB/)
    await first.end('SIGKILL')
    const again = await ingest(1)
    expect((await again.health()).forwarding.waiting).toBeGreaterThan(0)
    await load.finish()
    const all = load.acknowledgedCount()

    await influxd.start()
    await until(
      'all came through',
      async () => (await healthOf(hub)).counts.readings >= all,
      40_000,
    )
    expect((await healthOf(hub)).counts).toMatchObject({ readings: all, quarantined: 0, lost: 0 })
    await until('all is well', async () => (await again.health()).status === 'ok')
  },
)

test(
  'one reading by hand is seen in the hub, and so is what the serving hub hears itself',
  ONCE,
  async () => {
    const hub = await serve()
    await ingest(1)
    const probe = await client('sage1')
    const say = (leaf: string, body: unknown): Promise<unknown> =>
      probe.publishAsync(`lm1/sage1/up/${leaf}`, JSON.stringify(body), { qos: 1 })
    const answers: string[] = []
    probe.on('message', (topic, payload) => answers.push(`${topic} ${payload.toString()}`))
    await probe.subscribeAsync('lm1/sage1/dn/#', { qos: 1 })
    await say('birth', { p: 1, b: 1, u: 2, fw: 'loam 1', iv: 600, ch: 'ph,st' })
    await say('r', { b: 1, n: 0, u: 3, v: { ph: 6.42, st: 17.5 } })
    const found = await until('it is there', async () => {
      const answer = await fetch(`${hub.url}/api/probes/sage1`)
      const detail = answer.ok ? ((await answer.json()) as ProbeDetail) : null
      return detail?.account.total.received === 1 && detail.firmware !== null ? detail : null
    })
    expect(found.firmware).toBe('loam 1')
    await until('it is acknowledged', () => answers.includes('lm1/sage1/dn/ack {"b":1,"n":0}'))
    await hub.send('PUT', '/api/probes/sage1', { name: 'Sage' })
    const asked = await hub.send('POST', '/api/probes/sage1/commands', { what: 'read' })
    expect(asked.status, await asked.text()).toBeLessThan(300)
    // It goes out when the probe shows that it is there.
    await say('r', { b: 1, n: 1, u: 4, v: { ph: 6.42, st: 17.5 } })
    await until('the command reaches it', () =>
      answers.some((text) => text.startsWith('lm1/sage1/dn/cmd')),
    )
  },
)

test(
  'a copy of the serving hub holds back while the first one reads, and says so',
  ONCE,
  async () => {
    const hub = await serve()
    await ingest(1)
    const probe = await client('sage1')
    const send = (n: number): Promise<unknown> =>
      probe.publishAsync('lm1/sage1/up/r', `{"b":1,"n":${n},"u":${n},"v":{"st":17.5}}`, { qos: 1 })
    await send(0)
    await until('it is there', async () => (await healthOf(hub)).counts.readings === 1)
    // Stopped for the moment it takes, as somebody who copies a folder should.
    expect(await hub.end()).toBe(0)
    cpSync(join(folder.path, 'hub'), join(folder.path, 'copy'), { recursive: true })
    const again = await serve()
    const copy = await startHub('start', join(folder.path, 'copy'), {
      ...env(),
      LOAMLINE_ROLE: 'serve',
      LOAMLINE_BROKER_CLIENT_ID: 'loamline-copy',
    })
    open.push(copy)
    const { intakeLog } = await until('the copy holds back', async () => {
      const health = await healthOf(copy)
      return typeof health.intakeLog?.problem === 'string' ? health : null
    })
    expect(intakeLog!.problem).toMatch(/another hub .* reads the intake log/)
    await send(1)
    await until('the first one goes on', async () => (await healthOf(again)).counts.readings === 2)
    expect((await healthOf(again)).intakeLog).toMatchObject({ state: 'up', problem: null })
  },
)

async function client(id: string): Promise<MqttClient> {
  const made = await mqtt.connectAsync(url(), {
    clientId: id,
    protocolVersion: 4,
    reconnectPeriod: 0,
  })
  made.on('error', () => {})
  open.push({
    [Symbol.asyncDispose]: async () => {
      await made.endAsync(true)
    },
  })
  return made
}

/** How far each probe has been told that its readings are stored without a hole. */
async function hearAcknowledgements(): Promise<(probe: string) => number | undefined> {
  const upTo = new Map<string, number>()
  const listener = await client('listener')
  listener.on('message', (topic, payload) => {
    const { n } = JSON.parse(payload.toString()) as { n: number }
    const probe = topic.split('/')[1] ?? ''
    upTo.set(probe, Math.max(upTo.get(probe) ?? -1, n))
  })
  await listener.subscribeAsync('lm1/+/dn/ack')
  return (probe) => upTo.get(probe)
}
