import { spotHistory } from '../analysis/measure/spot-history.ts'
import { DAY, HOUR } from '../model/clock.ts'
import type { Channel } from '../model/probe.ts'
import type { Buckets } from '../model/series.ts'
import { finestStep } from '../store/retention/finest-step.ts'
import type { ReadingStore } from '../store/reading-store.ts'
import type { Entity } from './data-model.ts'
import type { GardenRecords, Stream } from './streams.ts'

/** Which observations: of these series, each only while its probe sat in the spot that is given. */
export interface Scope {
  readonly streams: readonly Stream[]
  /** Null: wherever. 0: while it sat in none. */
  readonly spot: number | null
  /** Epoch ms, `from <= t < to`. */
  readonly from: number
  readonly to: number
}

/** One value of one series. */
export interface Observed {
  readonly stream: Stream
  /** Epoch ms, whole. */
  readonly at: number
  readonly value: number
  readonly flags: readonly string[]
  /** What a moisture is a share of. */
  readonly of: 'volume' | 'probe range' | null
}

/** The temperature of an electrode is looked for so far away, as everywhere in the hub. */
const AROUND_MS = 6 * HOUR
const EARLIEST = 0
const LATEST = 8.64e15

const channelsOf = (stream: Stream): readonly Channel[] =>
  stream.kind === 'sent' ? [stream.channel] : stream.channels

/** UTC days on which any of the series has readings, ascending, by the daily roll-ups. */
async function daysWith(readings: ReadingStore, scope: Scope): Promise<readonly number[]> {
  const from = Math.floor(Math.max(EARLIEST, scope.from) / DAY) * DAY
  const to = Math.min(LATEST, scope.to)
  const names = new Map(scope.streams.flatMap(channelsOf).map((c) => [`${c.probe}/${c.name}`, c]))
  const answers = await readings.buckets(
    [...names.values()].map((c) => ({
      probe: c.probe,
      channel: c.name,
      from,
      to,
      step: 'day' as const,
    })),
  )
  return [...new Set(answers.flatMap(({ time }) => [...time]))].sort((a, b) => a - b)
}

/**
 * All observations of a scope in the order of time, those of one moment in the order of their series; read from the
 * store a day at a time, so that nothing is loaded that nobody asks for.
 */
export async function* observations(
  readings: ReadingStore,
  records: GardenRecords,
  scope: Scope,
  descending: boolean,
): AsyncGenerator<Observed> {
  const days = await daysWith(readings, scope)
  const places = new Map(scope.streams.map((stream, i) => [stream, i]))
  const sign = descending ? -1 : 1
  for (const day of descending ? days.toReversed() : days) {
    const from = Math.max(scope.from, day)
    const to = Math.min(scope.to, day + DAY)
    const found = await dayOf(readings, records, { ...scope, from, to })
    found.sort((a, b) => sign * (a.at - b.at || places.get(a.stream)! - places.get(b.stream)!))
    yield* found
  }
}

/** How many there are, without reading what the daily roll-ups know; null when those do not tell. */
export async function countByDays(readings: ReadingStore, scope: Scope): Promise<number | null> {
  if (scope.spot !== null || scope.streams.some(({ kind }) => kind === 'made')) return null
  const from = Math.max(EARLIEST, scope.from)
  const to = Math.min(LATEST, scope.to)
  if (from >= to) return 0
  // Days still count readings that have become hours.
  const probes = scope.streams.flatMap(channelsOf).map(({ probe }) => probe)
  if ((await finestStep(readings, probes, from, 'raw')) !== 'raw') return null
  const [first, last] = [Math.ceil(from / DAY) * DAY, Math.floor(to / DAY) * DAY]
  const parts: { from: number; to: number; step: 'raw' | 'day' }[] =
    first > last
      ? [{ from, to, step: 'raw' }]
      : [
          { from, to: first, step: 'raw' },
          { from: first, to: last, step: 'day' },
          { from: last, to, step: 'raw' },
        ]
  const answers = await readings.buckets(
    scope.streams
      .flatMap(channelsOf)
      .flatMap((c) =>
        parts
          .filter((part) => part.from < part.to)
          .map((part) => ({ probe: c.probe, channel: c.name, ...part })),
      ),
  )
  return answers.reduce((sum, { count }) => sum + count.reduce((a, b) => a + b, 0), 0)
}

/** The pieces of a stretch of time in which a probe sat in one place: the spot, or 0. */
function stays(
  { placements }: GardenRecords,
  probe: string,
  from: number,
  to: number,
): { readonly from: number; readonly to: number; readonly spot: number }[] {
  const own = placements.filter(
    (p) => p.probe === probe && p.from < to && (p.to === null || p.to > from),
  )
  const pieces: { from: number; to: number; spot: number }[] = []
  let at = from
  for (const p of own) {
    const start = Math.max(at, p.from)
    const end = Math.min(to, p.to ?? to)
    if (end <= start) continue
    if (start > at) pieces.push({ from: at, to: start, spot: 0 })
    pieces.push({ from: start, to: end, spot: p.spotId })
    at = end
  }
  if (at < to) pieces.push({ from: at, to, spot: 0 })
  return pieces
}

async function dayOf(
  readings: ReadingStore,
  records: GardenRecords,
  scope: Scope,
): Promise<Observed[]> {
  const wanted = scope.streams.flatMap((stream) =>
    stays(records, stream.probe.id, scope.from, scope.to)
      .filter(({ spot }) => scope.spot === null || spot === scope.spot)
      .map((stay) => ({ stream, stay, around: stream.kind === 'made' ? AROUND_MS : 0 })),
  )
  const answers = await readings.buckets(
    wanted.flatMap(({ stream, stay, around }) =>
      channelsOf(stream).map((c) => ({
        probe: c.probe,
        channel: c.name,
        from: Math.max(EARLIEST, stay.from - around),
        to: stay.to + around,
        step: 'raw' as const,
      })),
    ),
  )
  let next = 0
  return wanted.flatMap(({ stream, stay }) => {
    const own = channelsOf(stream).map((channel) => ({ channel, buckets: answers[next++]! }))
    const all =
      stream.kind === 'sent' ? sent(stream, own[0]!.buckets) : made(stream, own, records, stay)
    return all.filter(({ at, value }) => at >= stay.from && at < stay.to && !Number.isNaN(value))
  })
}

function sent(stream: Extract<Stream, { kind: 'sent' }>, { time, mean }: Buckets): Observed[] {
  const { low, high } = stream.channel
  return Array.from(time, (at, i) => {
    const value = mean[i]!
    const clipped = (low !== null && value <= low) || (high !== null && value >= high)
    return { stream, at, value, flags: clipped ? ['clipped'] : [], of: null }
  })
}

function made(
  stream: Extract<Stream, { kind: 'made' }>,
  channels: readonly { readonly channel: Channel; readonly buckets: Buckets }[],
  records: GardenRecords,
  stay: { readonly from: number; readonly to: number; readonly spot: number },
): Observed[] {
  const spot = records.spots.find(({ id }) => id === stay.spot)
  const bed = records.beds.find(({ id }) => id === spot?.bedId)
  const history = spotHistory(
    {
      spot: spot ?? { id: 0, bedId: 0, name: '' },
      probe: stream.probe.id,
      ...(bed === undefined ? {} : { texture: bed.texture }),
      from: stay.from,
      to: stay.to,
      channels,
      calibrations: records.calibrations.filter(({ probe }) => probe === stream.probe.id),
    },
    'raw',
    // Shares of a range and volumes may stand in one series here: each says what it is.
    { causal: stream.quantity === 'moisture' },
  )
  const values = history[stream.quantity]
  return Array.from(history.time, (at, row) => {
    const flags =
      stream.quantity !== 'ph'
        ? []
        : [
            ...(history.clipped[row] === 1 ? ['clipped'] : []),
            ...(history.uncalibrated[row] === 1 ? ['uncalibrated'] : []),
          ]
    const of =
      stream.quantity !== 'moisture'
        ? null
        : history.byVolume[row] === 1
          ? ('volume' as const)
          : ('probe range' as const)
    return { stream, at, value: values[row]!, flags, of }
  })
}

/** An observation as an entity. Its id names series and moment, and so is the same for ever. */
export function observationEntity({ stream, at, value, flags, of }: Observed): Entity {
  const time = new Date(at).toISOString()
  return {
    type: 'Observation',
    id: `${stream.id}:${at}`,
    properties: {
      phenomenonTime: time,
      resultTime: time,
      result: value,
      ...(flags.length === 0
        ? {}
        : { resultQuality: flags.map((code) => ({ DQ_Status: { code } })) }),
      ...(of === null ? {} : { parameters: { of } }),
    },
  }
}
