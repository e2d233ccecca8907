import { execFileSync } from 'node:child_process'
import { cpSync } from 'node:fs'
import { expect, onTestFinished, test } from 'vitest'
import type { Health } from '#hub/api/schemas/health.ts'
import { openStores } from '#hub/store/open.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { auditFolder, expectWhole } from './support/audit.ts'
import { startHubOnSmallDisk } from './support/hub-on-small-disk.ts'
import type { HubOnSmallDisk } from './support/hub-on-small-disk.ts'
import { startInsistentProbes } from './support/insistent-probes.ts'

/*
 * A disk that is full, that takes no writes, that fails while the hub writes. The hub must stay up, say what is
 * wrong, acknowledge nothing it has not kept, and go on by itself when the disk does.
 */

const BED = {
  name: 'By the fence',
  areaM2: 2.4,
  depthM: 0.3,
  texture: 'loam',
  crops: [],
  ownBand: null,
}

const health = async (hub: HubOnSmallDisk): Promise<Health> => {
  const { status, body } = await hub.get<Health>('/api/health')
  expect(status).toBe(200)
  return body
}
const becomes = (hub: HubOnSmallDisk, state: 'up' | 'down') =>
  until(`the store is ${state}`, async () => (await health(hub)).store.state === state, 30_000)

async function ended(hub: HubOnSmallDisk): Promise<string> {
  // The disk goes with the hub: what is on it is fetched while it runs no more but still stands.
  const kept = tempDir()
  onTestFinished(() => kept[Symbol.dispose]())
  process.kill(hub.pid, 'SIGSTOP')
  cpSync(hub.folder, kept.path, { recursive: true })
  await hub.end('SIGKILL')
  return kept.path
}

test('disk full, three times, and freed again', { timeout: 120_000 }, async () => {
  await using hub = await startHubOnSmallDisk({ megabytes: 24 })
  const probes = await startInsistentProbes({
    url: `mqtt://127.0.0.1:${hub.mqttPort}`,
    probes: 3,
    trusting: 1,
  })
  onTestFinished(() => probes.close())
  for (let time = 0; time < 3; time++) {
    const before = probes.toldCount()
    await until('probes are heard', () => probes.toldCount() > before + 150, 30_000)
    hub.fill()
    await becomes(hub, 'down')
    const now = await health(hub)
    expect(now.status).toBe('trouble')
    expect(now.store.problem).toMatch(/readings\.db|garden\.db/)
    expect(now.store.problem).toMatch(/the disk is full/)
    expect(now.disk?.freeBytes).toBe(0)
    const stuck = probes.toldCount()
    // What is stored can be looked at, what is to be stored is refused in words.
    expect((await hub.get('/api/beds')).status).toBe(200)
    const refused = await hub.send('/api/beds', BED)
    expect(refused.status).toBe(503)
    expect(await refused.text()).toMatch(/disk is full/)
    expect(probes.toldCount()).toBe(stuck)
    hub.free()
    await becomes(hub, 'up')
  }
  expect((await hub.send('/api/beds', BED)).status).toBe(201)
  await probes.finish()
  expect(hub.output()).toMatch(/readings wait unacknowledged until the store is back/)
  expect(hub.output()).toMatch(/the store takes readings again/)
  expectWhole(await auditFolder(await ended(hub), probes), probes)
})

test('disk full, and the hub is killed and started on it', { timeout: 120_000 }, async () => {
  using folder = tempDir()
  await (await openStores(folder.path)).close()
  const first = await startHubOnSmallDisk({ megabytes: 16, from: folder.path })
  onTestFinished(() => first[Symbol.asyncDispose]())
  const probes = await startInsistentProbes({
    url: `mqtt://127.0.0.1:${first.mqttPort}`,
    probes: 3,
  })
  onTestFinished(() => probes.close())
  await until('probes are heard', () => probes.toldCount() > 300, 30_000)
  first.fill()
  await becomes(first, 'down')
  const full = await ended(first)
  // Started where there is no room at all, it either runs and says so or refuses by name; then there is room.
  const kilobytes = Number(execFileSync('du', ['-sk', full], { encoding: 'utf8' }).split('\t')[0])
  const again = await startHubOnSmallDisk({
    megabytes: Math.ceil(kilobytes / 1024) + 12,
    from: full,
    env: { LOAMLINE_LOG_LEVEL: 'info' },
  })
  onTestFinished(() => again[Symbol.asyncDispose]())
  probes.moveTo(`mqtt://127.0.0.1:${again.mqttPort}`)
  await probes.finish()
  expectWhole(await auditFolder(await ended(again), probes), probes)
})

test.for([
  ['full', /the disk is full/],
  ['for reading alone', /hub\.lock|cannot be (created or )?written/],
] as const)(
  'a disk that is %s when the hub starts is refused by name',
  { timeout: 60_000 },
  async ([how, words]) => {
    using folder = tempDir()
    await (await openStores(folder.path)).close()
    const hub = await startHubOnSmallDisk({
      megabytes: 8,
      from: folder.path,
      full: how === 'full',
      readOnly: how !== 'full',
      refuses: true,
    })
    onTestFinished(() => hub[Symbol.asyncDispose]())
    const code = await Promise.race([
      hub.ended,
      new Promise<string>((resolve) => setTimeout(resolve, 30_000, 'it runs')),
    ])
    expect(code, hub.output()).toBe(2)
    expect(hub.output()).toMatch(/HUB_STORE_UNAVAILABLE/)
    expect(hub.output()).toMatch(words)
  },
)

test(
  'the disk takes no write of the running hub any more, and then does',
  { timeout: 60_000 },
  async () => {
    await using hub = await startHubOnSmallDisk({ megabytes: 64 })
    const probes = await startInsistentProbes({
      url: `mqtt://127.0.0.1:${hub.mqttPort}`,
      probes: 3,
    })
    onTestFinished(() => probes.close())
    for (let time = 0; time < 2; time++) {
      const before = probes.toldCount()
      await until('probes are heard', () => probes.toldCount() > before + 100, 30_000)
      // The kernel refuses every write beyond this place in a file; nobody else's processes are touched.
      execFileSync('prlimit', ['--pid', String(hub.pid), '--fsize=1:'])
      await becomes(hub, 'down')
      const stuck = probes.toldCount()
      expect((await health(hub)).store.problem).toMatch(/readings\.db|garden\.db/)
      expect((await hub.get('/api/beds')).status).toBe(200)
      expect(probes.toldCount()).toBe(stuck)
      execFileSync('prlimit', ['--pid', String(hub.pid), '--fsize=unlimited:'])
      await becomes(hub, 'up')
    }
    await probes.finish()
    expectWhole(await auditFolder(await ended(hub), probes), probes)
  },
)
