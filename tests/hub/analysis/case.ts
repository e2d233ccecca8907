import { nernstSlope } from '#hub/analysis/measure/nernst.ts'
import type { Bed, Spot } from '#hub/model/bed.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { BedFeeds, FeedChannel, SpotFeed } from '#hub/model/feed.ts'
import type { Calibration, Channel } from '#hub/model/probe.ts'
import type { Sensed } from '#hub/model/quantity.ts'
import { type Buckets, emptyBuckets, type Step } from '#hub/model/series.ts'

/** Noon UTC of an invented day. */
export const NOW = 1_750_000_000_000 - (1_750_000_000_000 % DAY) + DAY / 2

export function bed(change: Partial<Bed> = {}): Bed {
  return {
    id: 1,
    name: 'East bed',
    areaM2: 3,
    depthM: 0.25,
    texture: 'loam',
    crops: ['tomato'],
    ownBand: null,
    rank: 1,
    createdAt: 0,
    retiredAt: null,
    ...change,
  }
}

export interface Row {
  readonly at: number
  readonly value: number
}

export function rawBuckets(rows: readonly Row[]): Buckets {
  const out = emptyBuckets('raw', rows.length)
  for (const [i, { at, value }] of rows.entries()) {
    out.time[i] = at
    out.count[i] = Number.isNaN(value) ? 0 : 1
    for (const name of ['min', 'mean', 'max', 'median'] as const) out[name][i] = value
  }
  return out
}

/** Rolled up as a store would: median, mean, lowest and highest of each hour or day. */
function rolled(rows: readonly Row[], step: Exclude<Step, 'raw'>): Buckets {
  const width = step === 'hour' ? HOUR : DAY
  const groups = new Map<number, number[]>()
  for (const { at, value } of rows) {
    const start = at - (at % width)
    const group = groups.get(start) ?? []
    if (!Number.isNaN(value)) group.push(value)
    groups.set(start, group)
  }
  const starts = Array.from(groups.keys()).toSorted((a, b) => a - b)
  const out = emptyBuckets(step, starts.length)
  for (const [i, start] of starts.entries()) {
    const values = groups.get(start)!.toSorted((a, b) => a - b)
    out.time[i] = start
    out.count[i] = values.length
    if (values.length === 0) continue
    const half = values.length >> 1
    out.min[i] = values[0]!
    out.max[i] = values.at(-1)!
    out.mean[i] = values.reduce((sum, v) => sum + v, 0) / values.length
    out.median[i] =
      values.length % 2 === 1 ? values[half]! : (values[half - 1]! + values[half]!) / 2
  }
  return out
}

export function channel(
  probe: string,
  name: string,
  senses: Sensed,
  change: Partial<Channel> = {},
): Channel {
  return {
    probe,
    name,
    senses,
    unit: '',
    low: null,
    high: null,
    resolution: null,
    depthM: null,
    from: null,
    described: true,
    ...change,
  }
}

/** Raw rows of one probe, before they are rolled up. */
export interface ProbeRows {
  readonly spot: string
  readonly probe?: string
  readonly ph: readonly Row[]
  readonly moisture?: readonly Row[]
  readonly temperature?: readonly Row[]
  /** Calibrations; one ideal calibration 50 days before NOW when left out. */
  readonly calibrations?: readonly Calibration[]
  readonly from?: number
}

/** An electrode calibration with this slope (1 = ideal) and EMF at pH 7, mV. */
export function electrode(
  probe: string,
  at: number,
  { slope = 1, offsetMv = 0, temperatureC = 20, id = 1 } = {},
): Calibration {
  const emf = (ph: number): number => offsetMv - slope * nernstSlope(temperatureC) * (ph - 7)
  return {
    kind: 'electrode',
    id,
    probe,
    channel: 'phmv',
    at,
    points: [
      { ph: 4, emfMv: emf(4) },
      { ph: 7, emfMv: emf(7) },
    ],
    temperatureC,
    note: '',
  }
}

/** Both windows that `assess` takes, from the raw rows of the probes. Electrodes are ideal at 20 C. */
export function series(
  probes: readonly ProbeRows[],
  at: number,
  of: Bed = bed(),
): { hourly: BedFeeds; recent: BedFeeds } {
  const names = Array.from(new Set(probes.map((p) => p.spot)))
  const spots = names.map((name, i): Spot => ({ id: i + 1, bedId: of.id, name }))
  const feeds = (step: Step, from: number): BedFeeds => ({
    bed: of,
    spots,
    from,
    to: at + MINUTE,
    step,
    feeds: probes.map((p, i) => feed(p, i, spots, step, from, at + MINUTE)),
  })
  return { hourly: feeds('hour', at - 45 * DAY), recent: feeds('raw', at - 2 * DAY) }
}

export function feed(
  rows: ProbeRows,
  index: number,
  spots: readonly Spot[],
  step: Step,
  from: number,
  to: number,
): SpotFeed {
  const probe = rows.probe ?? `probe${index + 1}`
  const within = (of: readonly Row[]): Row[] => of.filter(({ at }) => at >= from && at < to)
  const buckets = (of: readonly Row[]): Buckets =>
    step === 'raw' ? rawBuckets(within(of)) : rolled(within(of), step)
  const emf = rows.ph.map(({ at, value }) => ({ at, value: -nernstSlope(20) * (value - 7) }))
  const channels: FeedChannel[] = [
    { channel: channel(probe, 'phmv', 'ph.emf', { unit: 'mV' }), buckets: buckets(emf) },
  ]
  if (rows.moisture !== undefined) {
    channels.push({
      channel: channel(probe, 'vwc', 'vwc', { unit: '/' }),
      buckets: buckets(rows.moisture),
    })
  }
  if (rows.temperature !== undefined) {
    channels.push({
      channel: channel(probe, 'st', 'temp.soil', { unit: 'Cel' }),
      buckets: buckets(rows.temperature),
    })
  }
  return {
    spot: spots.find(({ name }) => name === rows.spot)!,
    probe,
    from: rows.from ?? 0,
    to,
    channels,
    calibrations: rows.calibrations ?? [electrode(probe, NOW - 50 * DAY)],
  }
}

/** Standard normal numbers from uniform ones (Box and Muller). */
export function normal(random: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random())
}

export interface SoilOptions {
  readonly random: () => number
  readonly from: number
  readonly to: number
  readonly everyMs: number
  readonly level: number
  /** Standard deviation of the AR(1) noise with a memory of six hours, pH. */
  readonly noise: number
  /** Half of the daily swing, pH. */
  readonly swing: number
  /** Half of the yearly swing, pH, at a random season. */
  readonly season: number
  readonly seasonPhase: number
  /** Added to the level, pH. */
  readonly extra?: (at: number) => number
}

/** pH of one spot: level, season, daily swing, AR(1) noise, white noise of 0.02, two decimals. */
export function soil(options: SoilOptions): Row[] {
  const { random, from, to, everyMs, level, noise, swing, season, seasonPhase } = options
  const phi = Math.exp(-everyMs / (6 * HOUR))
  const shock = noise * Math.sqrt(1 - phi * phi)
  let ar = noise * normal(random)
  const rows: Row[] = []
  for (let at = from; at <= to; at += everyMs) {
    ar = phi * ar + shock * normal(random)
    const value =
      level +
      season * Math.sin((2 * Math.PI * at) / (365 * DAY) + seasonPhase) +
      swing * Math.sin((2 * Math.PI * at) / DAY) +
      ar +
      0.02 * normal(random) +
      (options.extra?.(at) ?? 0)
    rows.push({ at, value: Math.round(100 * value) / 100 })
  }
  return rows
}
