import { fork } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Health } from '#hub/api/schemas/health.ts'
import { startHub } from '../support/hub-process.ts'
import { startIngestProcess } from '../support/ingest-process.ts'
import { startInfluxd, startMosquitto } from '../support/services/services.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import type { Order, Report } from './intake/publisher.ts'
import { monotonic } from './intake/monotonic.ts'
import { openStand } from './intake/trial.ts'
import type { BenchRow } from './row.ts'

/*
 * A hub of several processes: what one ingest process takes, what gets on into the log, what the serving hub takes
 * from there, and what a message costs on the way. Everything shares the machine, InfluxDB too.
 */

const MESSAGES = 60_000
const PROBES = 1000
const CONNECTIONS = 4

async function publish(order: Order): Promise<Report> {
  const child = fork(join(import.meta.dirname, 'intake', 'publisher.ts'), [], {
    execArgv: [],
    serialization: 'advanced',
  })
  child.send(order)
  const [report] = (await once(child, 'message')) as [Report]
  child.disconnect()
  return report
}

const residentMB = (pid: number): number =>
  Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1]) / 1024

/** What InfluxDB has on the disk, bytes. */
async function diskOf(port: number): Promise<number> {
  const stats = (await (await fetch(`http://127.0.0.1:${port}/debug/vars`)).json()) as Record<
    string,
    { readonly name?: string; readonly values?: Readonly<Record<string, unknown>> }
  >
  return Object.values(stats)
    .filter(({ name }) => name === 'shard')
    .reduce((sum, { values }) => sum + Number(values?.['diskBytes'] ?? 0), 0)
}

export async function rows(): Promise<readonly BenchRow[]> {
  const load = { messages: MESSAGES, rate: 0 }
  let bare: number
  {
    await using noop = await openStand('noop', { probes: PROBES, connections: CONNECTIONS })
    const { begun, taken } = await noop.run(load)
    bare = MESSAGES / (taken.reduce((a, b) => Math.max(a, b), 0) - begun)
  }
  using folder = tempDir()
  await using broker = await startMosquitto()
  await using influxd = await startInfluxd()
  const env = {
    LOAMLINE_BROKER_URL: `mqtt://127.0.0.1:${broker.port}`,
    LOAMLINE_INFLUX_URL: `http://127.0.0.1:${influxd.port}`,
    LOAMLINE_PROBE_LIMIT: '0',
    LOAMLINE_MAX_STRANGERS: String(PROBES),
  }
  await using ingest = await startIngestProcess(join(folder.path, 'in'), 'in-1', env)
  const order: Order = {
    port: broker.port,
    first: 0,
    probes: PROBES,
    connections: CONNECTIONS,
    ...load,
  }
  const { begun } = await publish(order)
  await until('all are taken', async () => (await ingest.health()).spool.kept >= MESSAGES, 60_000)
  const taken = monotonic()
  const health = await until(
    'all are in the log',
    async () => {
      const now = await ingest.health()
      return now.forwarding.waiting === 0 ? now : null
    },
    120_000,
  )
  const logged = monotonic()
  const resident = residentMB(ingest.pid)
  const logBytes = await diskOf(influxd.port)

  await using hub = await startHub('start', join(folder.path, 'hub'), {
    ...env,
    LOAMLINE_ROLE: 'serve',
  })
  const startedAt = monotonic()
  await until(
    'all are in the hub',
    async () => (await hub.get<Health>('/api/health')).counts.readings >= MESSAGES,
    180_000,
  )
  const served = monotonic()
  const how = `${MESSAGES} readings of four values of ${PROBES} probes at QoS 1, one round`
  const record = { better: 'more', target: null } as const
  return [
    {
      what: 'readings taken into the spool of one ingest process : bare',
      value: MESSAGES / (taken - begun) / bare,
      unit: '',
      ...record,
      how: `${how}; messages a second, against mosquitto with a subscriber that does nothing`,
    },
    {
      what: 'messages of one ingest process in the log of InfluxDB',
      value: MESSAGES / ((logged - begun) / 1000),
      unit: 'messages/s',
      ...record,
      how: `${how}; from the first publish to the last confirmation`,
    },
    {
      what: 'messages the serving hub takes from the log',
      value: MESSAGES / ((served - startedAt) / 1000),
      unit: 'messages/s',
      ...record,
      how: `${how}; a backlog that was there when it started, its readings kept in InfluxDB too`,
    },
    {
      what: 'a message in the spool',
      value: health.spool.bytes / MESSAGES,
      unit: 'bytes',
      better: 'less',
      target: null,
      how: `${how}; file of the spool by messages, none of them taken by the serving hub`,
    },
    {
      what: 'a message in the log of InfluxDB',
      value: logBytes / MESSAGES,
      unit: 'bytes',
      better: 'less',
      target: null,
      how: `${how}; what InfluxDB says its shards have on the disk right after, its write-ahead log included`,
    },
    {
      what: 'resident memory of an ingest process after that',
      value: resident,
      unit: 'MB',
      better: 'less',
      target: null,
      how,
    },
  ]
}
