import { closeSync, openSync, readdirSync, statSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import { startHub } from '../support/hub-process.ts'
import type { HubProcess } from '../support/hub-process.ts'
import { startIngestProcess } from '../support/ingest-process.ts'
import type { IngestProcess } from '../support/ingest-process.ts'
import { startInfluxd, startMosquitto } from '../support/services/services.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { auditFolder, expectWhole } from './support/audit.ts'
import { targetAt } from './support/influx-behind.ts'
import { startInsistentProbes } from './support/insistent-probes.ts'

/* A hub of several processes, with everything between them breaking in turn. */

async function scene() {
  const folder = tempDir()
  onTestFinished(() => folder[Symbol.dispose]())
  const influxd = await startInfluxd()
  onTestFinished(() => influxd[Symbol.asyncDispose]())
  const broker = await startMosquitto()
  onTestFinished(() => broker[Symbol.asyncDispose]())
  const url = `mqtt://127.0.0.1:${broker.port}`
  const env = {
    LOAMLINE_BROKER_URL: url,
    LOAMLINE_INFLUX_URL: `http://127.0.0.1:${influxd.port}`,
    LOAMLINE_INFLUX_DATABASE: 'garden',
    LOAMLINE_PROBE_LIMIT: '0',
  }
  const ingest = async (name: string): Promise<IngestProcess> => {
    const one = await startIngestProcess(join(folder.path, name), name.replace('in', 'in-'), env)
    onTestFinished(() => one[Symbol.asyncDispose]())
    return one
  }
  const serve = async (): Promise<HubProcess> => {
    const hub = await startHub('start', join(folder.path, 'hub'), {
      ...env,
      LOAMLINE_ROLE: 'serve',
    })
    onTestFinished(() => hub[Symbol.asyncDispose]())
    return hub
  }
  let hub = await serve()
  const processes = new Map([
    ['in1', await ingest('in1')],
    ['in2', await ingest('in2')],
  ])
  const probes = await startInsistentProbes({ url, probes: 4, everyMs: 40, resendAfterMs: 4000 })
  onTestFinished(() => probes.close())
  const heard = async (): Promise<void> => {
    const before = probes.toldCount()
    await until('probes are heard', () => probes.toldCount() > before + 40, 60_000)
  }
  await heard()
  return {
    folder: folder.path,
    influxd,
    broker,
    probes,
    heard,
    killServe: async (): Promise<void> => {
      await hub.end('SIGKILL')
    },
    serveAgain: async (): Promise<void> => {
      hub = await serve()
    },
    kill: async (name: string): Promise<void> => {
      await processes.get(name)!.end('SIGKILL')
    },
    again: async (name: string): Promise<IngestProcess> => {
      const one = await ingest(name)
      processes.set(name, one)
      return one
    },
    audit: async (): Promise<void> => {
      await probes.finish(90_000)
      for (const one of processes.values()) expect(await one.end()).toBe(0)
      expect(await hub.end()).toBe(0)
      const audit = await auditFolder(join(folder.path, 'hub'), probes, targetAt(influxd))
      expectWhole(audit, probes)
    },
  }
}

test(
  'roles: ingest processes, the serving hub, InfluxDB and the broker are killed in turn',
  { timeout: 240_000 },
  async () => {
    const { kill, again, killServe, serveAgain, influxd, broker, heard, audit } = await scene()
    await kill('in1')
    await heard()
    await again('in1')
    await killServe()
    await serveAgain()
    await heard()
    await influxd.kill()
    await influxd.start()
    await heard()
    await broker.kill()
    await broker.start()
    await heard()
    await audit()
  },
)

test('roles: the spool of an ingest process is damaged', { timeout: 180_000 }, async () => {
  const { folder, kill, again, influxd, heard, audit } = await scene()
  // Something lies in it that has not gone on.
  await influxd.freeze()
  await new Promise((resolve) => setTimeout(resolve, 1500))
  await kill('in1')
  const place = join(folder, 'in1')
  for (const name of readdirSync(place).filter((one) => one.startsWith('spool.db'))) {
    const file = join(place, name)
    const bytes = statSync(file).size
    if (bytes === 0 || name.endsWith('-shm')) continue
    const handle = openSync(file, 'r+')
    writeSync(handle, Buffer.alloc(bytes, 0x5a), 0, bytes, 0)
    closeSync(handle)
  }
  await influxd.thaw()
  const one = await again('in1')
  expect(one.output()).toMatch(/spool\.db is damaged .* was put aside/)
  await heard()
  await audit()
})
