import type { WatchContext } from '#hub/analysis/watch/watch-state.ts'
import type { Bed } from '#hub/model/bed.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import type { BedFeeds, FeedChannel } from '#hub/model/feed.ts'
import type { JournalEntry } from '#hub/model/journal.ts'
import type { Channel } from '#hub/model/probe.ts'
import type { Sensed } from '#hub/model/quantity.ts'
import { emptyBuckets, type Buckets } from '#hub/model/series.ts'
import { SAMPLE_MS } from '#hub/simulator/bed-events.ts'
import type { ProbeRecord } from '#hub/simulator/probe-record.ts'
import type { RandomBed } from '#hub/simulator/random-bed.ts'

/** What the hub would hold of a bed: hour roll-ups of what its probes sent, and what was written down. */
export interface BedInput {
  readonly feeds: BedFeeds
  readonly context: WatchContext & { readonly others: [] }
}

export const probeOf = (spot: number): string => `probe${spot + 1}`
export const spotIdOf = (spot: number): number => spot + 1

/** The part of a simulated bed that reaches the hub. */
export interface Recorded extends Pick<
  RandomBed,
  'startMs' | 'days' | 'texture' | 'events' | 'visits' | 'resolutionPh'
> {
  readonly spots: readonly Pick<ProbeRecord, 'ph' | 'moisture' | 'temperatureC'>[]
}

/** A bed of the simulator as the hub would know it. */
export function bedInput(simulated: Recorded): BedInput {
  const { startMs, days, spots, texture, events, visits, resolutionPh } = simulated
  const bed: Bed = {
    id: 1,
    name: 'Bed',
    areaM2: 3,
    depthM: 0.3,
    texture,
    crops: [],
    ownBand: null,
    rank: 0,
    createdAt: startMs,
    retiredAt: null,
  }
  const to = startMs + days * DAY
  const places = spots.map((_, i) => ({ id: spotIdOf(i), bedId: bed.id, name: `Spot ${i + 1}` }))
  const feeds = spots.map((record, i) => ({
    spot: places[i]!,
    probe: probeOf(i),
    from: startMs,
    to,
    channels: [
      hourChannel(probeOf(i), 'ph', 'ph', 'pH', resolutionPh, record.ph, startMs),
      hourChannel(probeOf(i), 'vwc', 'vwc', '/', 0.001, record.moisture, startMs),
      hourChannel(probeOf(i), 'st', 'temp.soil', 'Cel', 0.1, record.temperatureC, startMs),
    ],
    calibrations: [],
  }))
  const blank = {
    bedId: bed.id,
    material: null,
    amountG: null,
    waterL: null,
    probe: null,
    ph: null,
    method: null,
    text: '',
  }
  const journal: Omit<JournalEntry, 'id'>[] = []
  for (const { spot, loggedAt } of visits) {
    if (loggedAt !== null) {
      journal.push({ ...blank, at: loggedAt, kind: 'service', probe: probeOf(spot) })
    }
  }
  for (const { onset, material } of events) {
    if (material !== null) {
      journal.push({ ...blank, at: onset, kind: 'treatment', material, amountG: 300 })
    }
  }
  return {
    feeds: { bed, spots: places, from: startMs, to, step: 'hour', feeds },
    context: {
      bed,
      journal: journal.toSorted((a, b) => a.at - b.at).map((entry, i) => ({ id: i + 1, ...entry })),
      calibratedAt: new Map(),
      others: [],
    },
  }
}

/** A channel of hour roll-ups. */
function hourChannel(
  probe: string,
  name: string,
  senses: Sensed,
  unit: string,
  resolution: number,
  samples: Float64Array,
  startMs: number,
): FeedChannel {
  const channel: Channel = {
    probe,
    name,
    senses,
    unit,
    low: null,
    high: null,
    resolution,
    depthM: null,
    from: null,
    described: true,
  }
  return { channel, buckets: hourBuckets(samples, startMs) }
}

const PER_HOUR = HOUR / SAMPLE_MS

/** Rolls quarter-hourly samples up into UTC hours; NaN is no reading, and an hour without any has no row. */
export function hourBuckets(samples: Float64Array, startMs: number): Buckets {
  const hours = Math.floor(samples.length / PER_HOUR)
  const out = emptyBuckets('hour', hours)
  const held = new Float64Array(PER_HOUR)
  let row = 0
  for (let hour = 0; hour < hours; hour++) {
    let n = 0
    let sum = 0
    for (let i = hour * PER_HOUR; i < (hour + 1) * PER_HOUR; i++) {
      const value = samples[i]!
      if (Number.isNaN(value)) continue
      // Four values at most: kept in order as they come.
      let at = n++
      for (; at > 0 && held[at - 1]! > value; at--) held[at] = held[at - 1]!
      held[at] = value
      sum += value
    }
    if (n === 0) continue
    out.time[row] = startMs + hour * HOUR
    out.count[row] = n
    out.min[row] = held[0]!
    out.max[row] = held[n - 1]!
    out.mean[row] = sum / n
    out.median[row] = n % 2 === 1 ? held[n >> 1]! : (held[n / 2 - 1]! + held[n / 2]!) / 2
    row++
  }
  return {
    step: 'hour',
    time: out.time.subarray(0, row),
    count: out.count.subarray(0, row),
    min: out.min.subarray(0, row),
    mean: out.mean.subarray(0, row),
    max: out.max.subarray(0, row),
    median: out.median.subarray(0, row),
  }
}
