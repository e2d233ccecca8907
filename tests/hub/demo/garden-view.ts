import { ASSESS_HOURLY_MS, ASSESS_RECENT_MS } from '#hub/analysis/assess.ts'
import type { Assessment } from '#hub/analysis/assessment.ts'
import { plantDemo } from '#hub/demo/garden.ts'
import { DAY, HOUR, MINUTE, SECOND } from '#hub/model/clock.ts'
import { emptyBuckets, type BucketQuery, type Buckets } from '#hub/model/series.ts'
import { simulateGarden, type GardenSimulation } from '#hub/simulator/garden-simulation.ts'
import type { Measurement } from '#hub/simulator/probe.ts'
import { withEvent, type Scenario } from '#hub/simulator/scenario.ts'
import { boots, measuredAt, measurements } from '#hub/simulator/schedule.ts'
import { hello } from '#hub/simulator/wire-messages.ts'
import { loadFeeds } from '#hub/store/feeds.ts'
import type { GardenStore } from '#hub/store/garden-store.ts'
import { openStores } from '#hub/store/open.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { describedChannel } from '#hub/wire/channels.ts'
import { decode } from '#hub/wire/payload.ts'
import { tempDir } from '../../support/temp-dir.ts'
import { assessed } from '../../support/watched.ts'

const LIVE_EVERY_MS = 5 * SECOND

interface Taken {
  readonly at: number
  readonly values: Measurement['values']
}

/** All that a probe measured in `from <= t < to`: by its boots up to the end of the history, then live. */
function takenBy(garden: GardenSimulation, id: string, from: number, to: number): readonly Taken[] {
  const { scenario } = garden
  const { probe, measure } = garden.probe(id)
  const times: number[] = []
  for (const boot of boots(scenario, probe)) {
    const first = Math.max(0, Math.ceil((from - measuredAt(boot, 0)) / boot.intervalMs))
    for (let seq = first; seq < measurements(boot); seq++) times.push(measuredAt(boot, seq))
  }
  for (let at = scenario.now + SECOND; at < to; at += LIVE_EVERY_MS) times.push(at)
  return times.filter((at) => at < to).map((at) => ({ at, values: measure(at).values }))
}

function bucketsOf(taken: readonly Taken[], query: BucketQuery): Buckets {
  const groups = new Map<number, number[]>()
  for (const { at, values } of taken) {
    const start = query.step === 'raw' ? at : at - (at % (query.step === 'hour' ? HOUR : DAY))
    if (start < query.from || start >= query.to) continue
    const value = values[query.channel as keyof typeof values]
    const group = groups.get(start) ?? []
    groups.set(start, group)
    if (value !== null) group.push(value)
  }
  const out = emptyBuckets(query.step, groups.size)
  for (const [i, [start, group]] of [...groups].entries()) {
    const sorted = group.toSorted((a, b) => a - b)
    const half = sorted.length >> 1
    out.time[i] = start
    out.count[i] = sorted.length
    if (sorted.length === 0) continue
    out.min[i] = sorted[0]!
    out.max[i] = sorted.at(-1)!
    out.mean[i] = sorted.reduce((sum, v) => sum + v, 0) / sorted.length
    out.median[i] =
      sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2
  }
  return out
}

/** A reading store that holds what the probes of a garden measured lately; it knows `buckets` alone. */
function readingsOf(garden: GardenSimulation, until: number): ReadingStore {
  const taken = new Map<string, readonly Taken[]>()
  const of = (probe: string): readonly Taken[] => {
    const known =
      taken.get(probe) ?? takenBy(garden, probe, until - ASSESS_HOURLY_MS - 2 * HOUR, until)
    taken.set(probe, known)
    return known
  }
  const port: Pick<ReadingStore, 'buckets'> = {
    buckets: async (queries) => queries.map((query) => bucketsOf(of(query.probe), query)),
  }
  return port as ReadingStore
}

async function introduce(garden: GardenStore, scenario: Scenario): Promise<void> {
  for (const probe of scenario.probes) {
    const channels = hello(probe, 1, 0, scenario.denseMs, 'test').flatMap(({ topic, payload }) => {
      const message = decode(topic, Buffer.from(payload))
      return 'kind' in message && message.kind === 'channel'
        ? [describedChannel(message.channel, message.body)]
        : []
    })
    await garden.hear([{ id: probe.id, at: scenario.now, channels }], scenario.probes.length)
  }
}

/**
 * What the hub says of every bed of a scenario, by the bed's key: the real garden store, feeds and
 * assessment, on what the probes measured up to `afterMs` past the end of the history. The live event
 * begins at `eventAfterMs`.
 */
export async function assessGarden(
  scenario: Scenario,
  moments: readonly number[],
  eventAfterMs: number,
): Promise<readonly ReadonlyMap<string, Assessment>[]> {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  try {
    await introduce(stores.garden, scenario)
    await plantDemo(stores.garden, scenario, scenario.now)
    const beds = await stores.garden.beds()
    const simulation = simulateGarden(
      withEvent(scenario, { ...scenario.liveEvent.event, at: scenario.now + eventAfterMs }),
    )
    const views: ReadonlyMap<string, Assessment>[] = []
    for (const afterMs of moments) {
      const at = scenario.now + afterMs
      const both = { garden: stores.garden, readings: readingsOf(simulation, at) }
      const view = new Map<string, Assessment>()
      for (const [index, bed] of beds.entries()) {
        const hourly = await loadFeeds(both, bed, at - ASSESS_HOURLY_MS, at + MINUTE, 'hour')
        const recent = await loadFeeds(both, bed, at - ASSESS_RECENT_MS, at + MINUTE, 'raw')
        const journal = await stores.garden.journal({ bedId: bed.id, to: at + MINUTE })
        view.set(scenario.beds[index]!.key, assessed(bed, { hourly, recent }, journal, at))
      }
      views.push(view)
    }
    return views
  } finally {
    await stores.close()
  }
}
