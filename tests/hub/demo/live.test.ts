import { expect, test } from 'vitest'
import { createIngest } from '#hub/ingest/ingest.ts'
import { openEmbeddedBroker } from '#hub/ingest/embedded-broker.ts'
import { plantDemo } from '#hub/demo/garden.ts'
import { runLiveProbes } from '#hub/demo/live.ts'
import { openStores } from '#hub/store/open.ts'
import { freePort } from '../../support/ports.ts'
import { tempDir } from '../../support/temp-dir.ts'
import { until } from '../../support/until.ts'
import { recentScenario } from './recent-scenario.ts'

const quiet = { warn: () => {}, info: () => {} }

test('live probes connect, survive a broker restart without losing a reading, and leave politely', async () => {
  const scenario = recentScenario(Date.now(), 1)
  const host = '127.0.0.1'
  const port = await freePort()
  using folder = tempDir()
  const stores = await openStores(folder.path)
  const { garden, readings } = stores
  const clock = Date.now
  const ingest = createIngest({ garden, readings, clock, log: quiet })
  const open = () => openEmbeddedBroker({ host, port, ingest, clock, log: quiet })
  let broker = await open()
  try {
    await plantDemo(garden, scenario, clock())
    const live = runLiveProbes({
      url: `mqtt://${host}:${port}`,
      scenario,
      clock,
      eventDelayMs: 1500,
      intervalMs: 100,
    })
    const stored = async (): Promise<number> => (await readings.counts()).readings
    try {
      await until('every probe is on', async () => {
        const on = (await garden.probes()).filter((probe) => probe.state === 'on')
        return on.length === scenario.probes.length
      })
      const stranger = await garden.probe('magpie1')
      expect(stranger?.adoptedAt).toBeNull()
      await until('readings arrive', async () => (await stored()) > 300)

      await broker.stop()
      const before = live.unacknowledged()
      await until('readings pile up', () => live.unacknowledged() > before + 200)
      broker = await open()
      const goal = (await stored()) + live.unacknowledged()
      await until('what piled up arrives', async () => (await stored()) >= goal, 20_000)
      const boot = Math.floor((live.eventAt - 1500) / 1000)
      const hole = async (id: string): Promise<boolean> =>
        (await readings.recall(id, boot)).ahead.length > 0
      await until(
        'and leaves no hole',
        async () =>
          (await Promise.all(scenario.probes.map(({ id }) => hole(id)))).every((one) => !one),
        20_000,
      )
      await until('and is acknowledged', () => live.unacknowledged() < 15 * scenario.probes.length)
    } finally {
      await live.stop()
    }
    await until(
      'every probe said goodbye',
      async () => (await garden.probes()).every((probe) => probe.state === 'off'),
      30_000,
    )
    await readings.settle()
    const counts = await readings.counts()
    expect(counts.quarantined).toBe(0)
    expect(counts.lost).toBe(0)
    const boot = Math.floor((live.eventAt - 1500) / 1000)
    for (const { id } of scenario.probes) {
      const { mark, ahead } = await readings.recall(id, boot)
      expect(ahead, id).toEqual([])
      expect(mark!.top, id).toBeGreaterThan(10)
    }

    // The event came in between: every probe of the bed shows a much lower EMF than before, the others none.
    const { event } = scenario.liveEvent
    for (const { id } of scenario.probes) {
      const [raw] = await readings.buckets([
        { probe: id, channel: 'phmv', from: 0, to: Infinity, step: 'raw' },
      ])
      const fall = raw!.mean[0]! - raw!.mean.at(-1)!
      const hit = id.startsWith(event.bed)
      const seconds = (raw!.time.at(-1)! - live.eventAt) / 1000
      const expected = hit ? 58 * event.changePh * Math.min(1, (1000 * seconds) / event.rampMs) : 0
      expect(Math.abs(fall - expected), id).toBeLessThan(8)
      if (hit) expect(expected, 'the event has begun').toBeGreaterThan(8)
    }
  } finally {
    await broker.stop()
    ingest.stop()
    await stores.close()
  }
}, 60_000)
