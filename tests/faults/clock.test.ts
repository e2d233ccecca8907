import { expect, onTestFinished, test } from 'vitest'
import type { Alarm } from '#hub/api/schemas/alarm.ts'
import type { BedView } from '#hub/api/schemas/bed.ts'
import type { Health } from '#hub/api/schemas/health.ts'
import type { ProbeView } from '#hub/api/schemas/probe.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { auditFolder, expectWhole } from './support/audit.ts'
import { startInsistentProbes } from './support/insistent-probes.ts'
import { startClockedHub } from './support/start-clocked-hub.ts'

/*
 * The clock of a small machine: without a battery it wakes in the past, then a time server sets it, sometimes wrongly.
 * Whatever it says, readings are taken and acknowledged, each once; what stands at a wrong time is not taken for now.
 */

const HOUR = 3_600_000
const YEAR = 365 * 24 * HOUR

async function scene(offset = 0) {
  const folder = tempDir()
  onTestFinished(() => folder[Symbol.dispose]())
  const hub = await startClockedHub(folder.path, offset)
  onTestFinished(() => hub[Symbol.asyncDispose]())
  const probes = await startInsistentProbes({
    url: `mqtt://127.0.0.1:${hub.mqttPort}`,
    probes: 2,
    everyMs: 40,
    trusting: 1,
  })
  onTestFinished(() => probes.close())
  const heard = async (): Promise<void> => {
    const [told, taken] = [probes.toldCount(), probes.takenCount()]
    await until(
      'probes are heard',
      () => probes.toldCount() > told + 30 && probes.takenCount() > taken + 60,
      20_000,
    )
  }
  await heard()
  return { folder: folder.path, hub, probes, heard }
}

test.for([
  ['two hours ahead, two behind, and right', [2 * HOUR, -4 * HOUR, 2 * HOUR]],
  ['three years ahead and back', [3 * YEAR, -3 * YEAR]],
  ['to 1970 and back', [-Date.now(), Date.now()]],
] as const)(
  'clock: %s, readings are taken all the time',
  { timeout: 60_000 },
  async ([, jumps]) => {
    const { folder, hub, probes, heard } = await scene()
    for (const jump of jumps) {
      hub.jump(jump)
      await heard()
      const before = hub.now()
      await until('beds and probes go on being looked at', async () => {
        const health = await hub.get<Health>('/api/health')
        expect(health.store).toEqual({ state: 'up', problem: null })
        return Math.abs(health.now - hub.now()) < 5000 && health.now >= before
      })
    }
    // Where the clock stands now, the newest is what came now.
    const views = await until('the newest is of now', async () => {
      const all: readonly ProbeView[] = await hub.get<ProbeView[]>('/api/probes')
      return all.every(({ lastSeenAt }) => Math.abs(lastSeenAt - hub.now()) < 15_000) ? all : null
    })
    for (const view of views) {
      for (const { name, latest, latestAt } of view.channels) {
        expect(latest, `${view.id} ${name}`).not.toBeNull()
        expect(Math.abs(latestAt! - hub.now()), `${view.id} ${name}`).toBeLessThan(15_000)
      }
    }
    await probes.finish()
    expect(await hub.end()).toBe(0)
    expectWhole(await auditFolder(folder, probes), probes)
  },
)

test(
  'clock: years ahead for a while, and nobody is called silent afterwards',
  { timeout: 240_000 },
  async () => {
    const { hub, heard } = await scene()
    const made = await hub.send('POST', '/api/beds', {
      name: 'Alder',
      areaM2: 1,
      depthM: 0.3,
      texture: 'loam',
      crops: [],
      ownBand: null,
    })
    const bed = (await made.json()) as BedView
    const spot = (await (
      await hub.send('POST', `/api/beds/${bed.id}/spots`, { name: 'middle' })
    ).json()) as { id: number }
    expect((await hub.send('PUT', '/api/probes/row0', { name: 'Row' })).status).toBe(200)
    const placed = await hub.send('POST', '/api/probes/row0/placement', {
      spotId: spot.id,
      from: hub.now() - 1000,
    })
    expect(placed.status).toBe(200)
    await heard()
    hub.jump(3 * YEAR)
    await heard()
    await until('it is told', () => /was set ahead by 1095 d/.test(hub.output()), 60_000)
    hub.jump(-3 * YEAR)
    await heard()
    await until('it is told', () => /was set back by 1095 d/.test(hub.output()), 60_000)
    const looked = await until(
      'its bed is looked at',
      async () => {
        const { evaluation } = await hub.get<Health>('/api/health')
        const ago = hub.now() - (evaluation.lastAt ?? 0)
        return ago >= 0 && ago < 30_000 ? evaluation : null
      },
      60_000,
    )
    expect(looked.problem).toBeNull()
    const alarms = await hub.get<Alarm[]>('/api/alarms')
    expect(alarms.filter(({ kind }) => kind === 'probe-silent')).toEqual([])
  },
)

test(
  'clock: a machine that wakes in 1970 and is set right takes every reading',
  { timeout: 60_000 },
  async () => {
    const { folder, hub, probes, heard } = await scene(-Date.now() + 60_000)
    hub.jump(Date.now() - 60_000)
    await heard()
    await probes.finish()
    expect(await hub.end()).toBe(0)
    expectWhole(await auditFolder(folder, probes), probes)
  },
)
