import { STEP_MS } from '../model/series.ts'
import { finestStep } from './retention/finest-step.ts'
import type { Bed } from '../model/bed.ts'
import type { BedFeeds, SpotFeed } from '../model/feed.ts'
import type { Placement } from '../model/probe.ts'
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

/**
 * Everything the probes of a bed sent while they sat in it, `from <= t < to`, epoch ms. For hours and
 * days the range should start and end with one. Raw readings that have become hours are told as hours, all of them:
 * the step of the answer says so.
 */
export async function loadFeeds(
  stores: { readonly readings: ReadingStore; readonly garden: GardenStore },
  bed: Bed,
  from: number,
  to: number,
  wantedStep: Step,
): Promise<BedFeeds> {
  const { readings, garden } = stores
  const [spots, placements, channels, calibrations] = await Promise.all([
    garden.spots(bed.id),
    garden.placements(),
    garden.channels(),
    garden.calibrations(),
  ])
  const watched = channels.filter(({ senses }) => WATCHED.has(senses))
  const spotIds = new Set(spots.map(({ id }) => id))
  const sitting = placements.flatMap((p) => (spotIds.has(p.spotId) ? p.probe : []))
  const step = await finestStep(readings, sitting, from, wantedStep)

  const wanted = spots.flatMap((spot) =>
    placements
      .filter((p) => p.spotId === spot.id && p.from < to && (p.to === null || p.to > from))
      .map((placement) => {
        const { probe } = placement
        const others = placements.filter((p) => p.probe === probe && p.id !== placement.id)
        const range = bucketRange(placement, others, { from, to }, step)
        return {
          spot,
          probe,
          from: Math.max(from, placement.from),
          to: Math.min(to, placement.to ?? to),
          channels: watched
            .filter((channel) => channel.probe === probe)
            .map((channel) => ({
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
    calibrations: calibrations.filter(({ probe }) => probe === feed.probe),
  }))
  return { bed, spots, from, to, step, feeds }
}
