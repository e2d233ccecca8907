import { STEP_MS } from '../model/series.ts'
import { finestStep } from './retention/finest-step.ts'
import type { Bed, Spot } from '../model/bed.ts'
import type { BedFeeds, SpotFeed } from '../model/feed.ts'
import type { Calibration, Channel, Placement } from '../model/probe.ts'
import type { Sensed } from '../model/quantity.ts'
import type { BucketQuery, Step } from '../model/series.ts'
import type { GardenStore } from './garden-store.ts'
import type { ReadingStore } from './reading-store.ts'

/** What a bed is watched by. */
const WATCHED: ReadonlySet<Sensed> = new Set([
  'ph',
  'ph.emf',
  'vwc',
  'moist.raw',
  'permittivity',
  'temp.soil',
  // A sagging supply pulls every value.
  'bat',
])

/**
 * The buckets of a placement: `from <= start of bucket < to`, epoch ms.
 *
 * An hour or a day in which a probe moved mixes two places and belongs to neither. Where nothing comes
 * before (or after) within it, the bucket that is only partly filled counts.
 */
export function bucketRange(
  placement: Placement,
  others: readonly Placement[],
  range: { readonly from: number; readonly to: number },
  step: Step,
): { from: number; to: number } {
  const width = STEP_MS[step]
  const down = (t: number): number => (width === 0 ? t : Math.floor(t / width) * width)
  const up = (t: number): number => (width === 0 ? t : Math.ceil(t / width) * width)

  const start = down(placement.from)
  const shared = others.some(({ to }) => to !== null && to > start && to <= placement.from)
  const from = shared ? up(placement.from) : start

  const end = placement.to
  if (end === null) return { from: Math.max(range.from, from), to: range.to }
  const followed = others.some((other) => other.from >= end && other.from < up(end))
  const to = followed ? down(end) : up(end)
  return { from: Math.max(range.from, from), to: Math.min(range.to, to) }
}

/** Where probes sit and what they sense, as far as feeds are made of it. */
export interface Sites {
  readonly spotsOf: (bedId: number) => readonly Spot[]
  readonly placementsAt: (spotId: number) => readonly Placement[]
  readonly placementsOf: (probe: string) => readonly Placement[]
  /** Of the channels that a bed is watched by. */
  readonly channelsOf: (probe: string) => readonly Channel[]
  readonly calibrationsOf: (probe: string) => readonly Calibration[]
}

/** As it is now, of the whole garden: to be read once by who goes through many beds. */
export async function readSites(
  garden: Pick<GardenStore, 'spots' | 'placements' | 'channels' | 'calibrations'>,
): Promise<Sites> {
  const [spots, placements, channels, calibrations] = await Promise.all([
    garden.spots(),
    garden.placements(),
    garden.channels(),
    garden.calibrations(),
  ])
  return {
    spotsOf: finder(spots, ({ bedId }) => bedId),
    placementsAt: finder(placements, ({ spotId }) => spotId),
    placementsOf: finder(placements, ({ probe }) => probe),
    channelsOf: finder(
      channels.filter(({ senses }) => WATCHED.has(senses)),
      ({ probe }) => probe,
    ),
    calibrationsOf: finder(calibrations, ({ probe }) => probe),
  }
}

function finder<T, K>(items: readonly T[], keyOf: (item: T) => K): (key: K) => readonly T[] {
  const groups = Map.groupBy(items, keyOf)
  return (key) => groups.get(key) ?? []
}

/**
 * Everything the probes of a bed sent while they sat in it, `from <= t < to`, epoch ms. For hours and
 * days the range should start and end with one. Raw readings that have become hours are told as hours, all of them:
 * the step of the answer says so.
 *
 * @param sites who looks at one bed after the other reads them once. @default as they are now
 */
export async function loadFeeds(
  stores: { readonly readings: ReadingStore; readonly garden: GardenStore },
  bed: Bed,
  from: number,
  to: number,
  wantedStep: Step,
  sites?: Sites,
): Promise<BedFeeds> {
  const { readings, garden } = stores
  const { spotsOf, placementsAt, placementsOf, channelsOf, calibrationsOf } =
    sites ?? (await readSites(garden))
  const spots = spotsOf(bed.id)
  const sitting = spots.flatMap(({ id }) => placementsAt(id).map(({ probe }) => probe))
  const step = await finestStep(readings, sitting, from, wantedStep)

  const wanted = spots.flatMap((spot) =>
    placementsAt(spot.id)
      .filter((p) => p.from < to && (p.to === null || p.to > from))
      .map((placement) => {
        const { probe } = placement
        const others = placementsOf(probe).filter(({ id }) => id !== placement.id)
        const range = bucketRange(placement, others, { from, to }, step)
        return {
          spot,
          probe,
          from: Math.max(from, placement.from),
          to: Math.min(to, placement.to ?? to),
          channels: channelsOf(probe).map((channel) => ({
            channel,
            query: { probe, channel: channel.name, ...range, step } satisfies BucketQuery,
          })),
        }
      }),
  )
  const answers = await readings.buckets(
    wanted.flatMap((feed) => feed.channels.map(({ query }) => query)),
  )

  let next = 0
  const feeds = wanted.map((feed): SpotFeed => ({
    ...feed,
    texture: bed.texture,
    channels: feed.channels.flatMap(({ channel }) => {
      const buckets = answers[next++]
      return buckets === undefined ? [] : [{ channel, buckets }]
    }),
    calibrations: calibrationsOf(feed.probe),
  }))
  return { bed, spots, from, to, step, feeds }
}
