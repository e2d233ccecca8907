import { statSync } from 'node:fs'
import { join } from 'node:path'
import { plantDemo } from '#hub/demo/garden.ts'
import { loadHistory } from '#hub/demo/history.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { DAY } from '#hub/model/clock.ts'
import type { Reading } from '#hub/model/reading.ts'
import { demoScenario } from '#hub/simulator/demo-scenario.ts'
import { openStores } from '#hub/store/open.ts'
import { tempDir } from '../support/temp-dir.ts'
import { quiet } from './kit.ts'
import type { BenchRow } from './row.ts'

/*
 * What a value takes on the disk: the whole file after it was closed, with names, times, indexes, days and
 * everything else, divided by the values in it.
 */

const NOW = Date.UTC(2026, 8, 20, 12)

async function bytesPerValue(
  folder: string,
  fill: (stores: Awaited<ReturnType<typeof openStores>>) => Promise<void>,
  probes: readonly { readonly id: string; readonly channels: readonly string[] }[] | null,
): Promise<{ readonly bytes: number; readonly values: number }> {
  const stores = await openStores(folder)
  await fill(stores)
  await stores.readings.settle()
  const wanted =
    probes ??
    (await Promise.all(
      (await stores.garden.probes()).map(async ({ id }) => ({
        id,
        channels: (await stores.garden.channels(id)).map(({ name }) => name),
      })),
    ))
  let values = 0
  for (const { id, channels } of wanted) {
    const columns = await stores.readings.buckets(
      channels.map((channel) => ({ probe: id, channel, from: 0, to: NOW + DAY, step: 'raw' })),
    )
    for (const { time } of columns) values += time.length
  }
  await stores.close()
  return { bytes: statSync(join(folder, 'readings.db')).size, values }
}

/** The demo garden of eighteen months, sent through the same way in as MQTT. */
async function demo(folder: string): Promise<{ bytes: number; values: number }> {
  const scenario = demoScenario({ seed: 1, now: NOW })
  return bytesPerValue(
    folder,
    async (stores) => {
      const ingest = createIngest({ ...stores, clock: () => NOW, log: quiet })
      await plantDemo(stores.garden, scenario, NOW)
      await loadHistory({ ingest: (batch) => ingest.ingest(batch), scenario, now: NOW })
    },
    null,
  )
}

const FLEET = { probes: 100, days: 30, everyMs: 15 * 60_000 }

/** Many probes as they come in live, one after the other, settled many times a day. */
async function fleet(folder: string): Promise<{ bytes: number; values: number }> {
  const channels = ['phmv', 'm1', 'st', 'bat']
  const ids = Array.from({ length: FLEET.probes }, (_, i) => `row${i}a`)
  return bytesPerValue(
    folder,
    async ({ readings }) => {
      const from = NOW - FLEET.days * DAY
      for (let seq = 0; seq * FLEET.everyMs < FLEET.days * DAY; seq++) {
        const taken = ids.map((probe, i): Reading => {
          // Some milliseconds early or late, as timers and networks are.
          const at = from + seq * FLEET.everyMs + i * 311 + ((seq * 7919 + i * 104_729) % 83)
          const day = Math.sin((seq / 96) * 2 * Math.PI)
          const noise = (seq * 31 + i * 17) % 5
          return {
            probe,
            boot: 3_141_592_653 + i,
            seq,
            uptimeS: Math.floor((at - from) / 1000),
            at,
            placedBy: 'arrival',
            arrivedAt: at,
            deviceAt: null,
            flags: 0,
            values: [
              { channel: 'phmv', value: Math.round(-40 + 8 * day + noise) / 8 },
              { channel: 'm1', value: Math.round(1800 + 12 * day + 3 * noise) },
              { channel: 'st', value: Math.round(16 * (15 + 4 * day) + noise) / 16 },
              { channel: 'bat', value: Math.round(395 - seq / 600 + (noise >> 2)) / 100 },
            ],
          }
        })
        await readings.append({ readings: taken, anchors: [], marks: [], quarantined: [] })
        if (seq % 8 === 0) await readings.settle()
      }
    },
    ids.map((id) => ({ id, channels })),
  )
}

export async function rows(): Promise<readonly BenchRow[]> {
  const all: BenchRow[] = []
  for (const [what, make, how] of [
    ['demo garden', demo, 'eighteen months of the demo garden'],
    [
      'many probes, live',
      fleet,
      `${FLEET.probes} probes for ${FLEET.days} days, a reading of four values every quarter of an hour`,
    ],
  ] as const) {
    using folder = tempDir()
    const { bytes, values } = await make(folder.path)
    all.push({
      what: `bytes a value on the disk, all included (${what})`,
      value: bytes / values,
      unit: 'bytes',
      better: 'less',
      target: 20,
      stretch: 9,
      how: `${how}: ${bytes} bytes of readings.db after closing, ${values} values`,
    })
  }
  return all
}
