import { closeSync, openSync, statSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import type { InfluxTarget } from '#hub/store/influx/influx-client.ts'
import { openStores } from '#hub/store/open.ts'
import { freePort } from '../support/ports.ts'
import { seededRandom } from '../support/random.ts'
import { faultProxy } from '../support/services/fault-proxy.ts'
import { startInfluxd } from '../support/services/services.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { auditFolder, expectWhole } from './support/audit.ts'
import { heldThere, sentOn, targetAt } from './support/influx-behind.ts'
import { startInsistentProbes } from './support/insistent-probes.ts'
import type { InsistentProbes } from './support/insistent-probes.ts'
import { startIntake } from './support/intake-process.ts'
import type { IntakeProcess } from './support/intake-process.ts'
import { repeats } from './support/repeats.ts'

/*
 * Readings that go on to an InfluxDB. What is acknowledged is on the hub's own disk first, so that whatever becomes of
 * the InfluxDB, probes are heard all the time; and in the end it holds every reading, once.
 */

const KILLS = repeats('LOAMLINE_TEST_INFLUX_KILLS', 50)

/** What InfluxDB itself holds of each probe, asked past the hub. */
async function expectHeldThere(target: InfluxTarget, probes: InsistentProbes): Promise<void> {
  for (const probe of probes.ids) {
    const n = probes.taken(probe)
    expect(await heldThere(target, probe), probe).toEqual({ n, sum: (n * (n - 1)) / 2 })
  }
}

async function scene() {
  const folder = tempDir()
  onTestFinished(() => folder[Symbol.dispose]())
  const influxd = await startInfluxd()
  onTestFinished(() => influxd[Symbol.asyncDispose]())
  const link = await faultProxy(influxd)
  onTestFinished(() => link[Symbol.asyncDispose]())
  const port = await freePort()
  const influx = `http://127.0.0.1:${link.port}`
  const life = (): IntakeProcess => {
    const started = startIntake(folder.path, 'embedded', String(port), { influx })
    onTestFinished(() => started[Symbol.asyncDispose]())
    return started
  }
  let host = life()
  await host.whenUp()
  const probes = await startInsistentProbes({
    url: `mqtt://127.0.0.1:${port}`,
    probes: 4,
    trusting: 2,
    everyMs: 20,
  })
  onTestFinished(() => probes.close())
  const heard = async (): Promise<void> => {
    const before = probes.toldCount()
    await until('probes are heard', () => probes.toldCount() > before + 60, 30_000)
  }
  await heard()
  return {
    folder: folder.path,
    influxd,
    link,
    probes,
    heard,
    host: () => host,
    again: (): void => {
      host = life()
    },
    audit: async (): Promise<void> => {
      await probes.finish()
      await host.end('SIGTERM')
      const target = targetAt(influxd)
      expectWhole(await auditFolder(folder.path, probes, target), probes)
      await expectHeldThere(target, probes)
    },
  }
}

test.for(['refused', 'swallowed', 'deaf'] as const)(
  'InfluxDB %s: probes are heard, and it gets all of it afterwards',
  { timeout: 90_000 },
  async (how) => {
    const { link, heard, audit } = await scene()
    for (let time = 0; time < 2; time++) {
      await link.setLink(how)
      await heard()
      await heard()
      await link.setLink('up')
      await heard()
    }
    await audit()
  },
)

test(
  'InfluxDB frozen: probes are heard, and it gets all of it afterwards',
  { timeout: 90_000 },
  async () => {
    const { influxd, heard, audit } = await scene()
    await influxd.freeze()
    await heard()
    await heard()
    await influxd.thaw()
    await heard()
    await audit()
  },
)

test('InfluxDB slow and late: probes are heard as fast as ever', { timeout: 90_000 }, async () => {
  const { link, heard, audit } = await scene()
  link.delay(800)
  link.slow(20_000)
  await heard()
  await heard()
  link.delay(0)
  link.slow(null)
  await audit()
})

test(
  'InfluxDB cut in mid-answer and mid-request, again and again',
  { timeout: 90_000 },
  async () => {
    const { link, heard, audit } = await scene()
    const random = seededRandom(91)
    for (let cut = 0; cut < 6; cut++) {
      const before = link.cuts()
      link.cutAfter(1 + Math.floor(random() * 4000), cut % 2 === 0 ? 'to server' : 'to client')
      await until('it is cut', () => link.cuts() > before, 30_000)
    }
    await heard()
    await audit()
  },
)

test('InfluxDB killed under load, three times', { timeout: 120_000 }, async () => {
  const { influxd, heard, audit } = await scene()
  for (let time = 0; time < 3; time++) {
    await heard()
    await influxd.kill()
    await heard()
    await influxd.start()
  }
  await audit()
})

test('kill -9 of the hub under load, readings in InfluxDB', { timeout: 300_000 }, async () => {
  const { host, again, probes, audit } = await scene()
  const random = seededRandom(92)
  for (let kill = 0; kill < KILLS; kill++) {
    await host().whenUp()
    const enough = 1 + random() * 100
    await until('the hub takes readings', () => host().messages() > enough, 20_000)
    await host().end('SIGKILL')
    again()
  }
  await host().whenUp()
  await audit()
  console.log(
    `${KILLS} times kill -9 with InfluxDB behind it: ${probes.takenCount()} readings, each once`,
  )
})

test(
  'InfluxDB behind it, and the file of what is on its way is damaged',
  { timeout: 90_000 },
  async () => {
    using folder = tempDir()
    await using influxd = await startInfluxd()
    const target = targetAt(influxd)
    const port = await freePort()
    const influx = `http://127.0.0.1:${influxd.port}`
    await using first = startIntake(folder.path, 'embedded', String(port), { influx })
    await first.whenUp()
    const probes = await startInsistentProbes({
      url: `mqtt://127.0.0.1:${port}`,
      probes: 3,
      everyMs: 20,
    })
    onTestFinished(() => probes.close())
    await until('probes are heard', () => probes.toldCount() > 200, 30_000)
    await probes.finish()
    await first.end('SIGTERM')
    await auditFolder(folder.path, probes, target)
    const file = join(folder.path, 'readings.db')
    const handle = openSync(file, 'r+')
    const bytes = Math.floor(statSync(file).size / 2)
    writeSync(handle, Buffer.alloc(bytes, 0x5a), 0, bytes, 4096)
    closeSync(handle)

    // What it had sent on comes back from there.
    const told: string[] = []
    const stores = await openStores(folder.path, {
      influx: target,
      putAside: true,
      onTrouble: ({ message }) => told.push(message),
    })
    try {
      await sentOn(stores.readings)
      expect(told.join('\n')).toMatch(/readings\.db is damaged .* was put aside/)
      expect(stores.setAside()).toHaveLength(1)
    } finally {
      await stores.close()
    }
    expectWhole(await auditFolder(folder.path, probes, target), probes)
    await expectHeldThere(target, probes)
  },
)
