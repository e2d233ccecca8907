import { STEP_MS } from '../../model/series.ts'
import { quoteName, FAILED, fieldOf } from './names.ts'
import { EARLIEST, LATEST } from './point.ts'
import { rollUpOf } from './roll-up-of.ts'
import type { BucketQuery, Buckets, Step } from '../../model/series.ts'
import type { InfluxClient } from './influx-client.ts'
import type { RolledUp } from './roll-up-of.ts'

/** One reading of one channel; NaN when it failed. */
export interface Sample {
  readonly t: number
  readonly value: number
}
export type ByChannel<T> = ReadonlyMap<string, readonly T[]>
/** Readings that are still here, each channel ascending; a channel without any may be left out. */
export type Waiting = (stretch: Stretch) => ByChannel<Sample>
type Row = RolledUp & { readonly time: number }

/** Rows asked for at a time; 1.x answers in pieces of 10,000 and says after a full one that there are more. */
const PAGE = 9000
/** Stretches of touched buckets that are asked for one by one; more are joined over their gaps. */
const MOST_STRETCHES = 8
/** Questions at a server at a time. */
const AT_ONCE = 4

/**
 * Answers of an InfluxDB, together with what has not been delivered to it yet. The hours and days that something
 * waiting falls into are made of raw values anew; everything else the server rolls up.
 *
 * What waits is read first: a reading that is delivered in the meantime shows up twice under the same moment, and
 * once in the answer. The other way round it could be missing.
 */
export async function mergedBuckets(
  client: Pick<InfluxClient, 'querySeries'>,
  waiting: Waiting,
  queries: readonly BucketQuery[],
): Promise<Buckets[]> {
  const groups = [
    ...Map.groupBy(queries, ({ probe, from, to, step }) =>
      JSON.stringify([probe, from, to, step]),
    ).values(),
  ].map((alike) => ({ ...reach(alike[0]!), step: alike[0]!.step, channels: channelsOf(alike) }))
  const local = groups.map((group) => waiting(group))
  const answers = new Map<string, Buckets>()
  let next = 0
  const work = async (): Promise<void> => {
    for (let i = next++; i < groups.length; i = next++) {
      const [group, here] = [groups[i]!, local[i]!]
      const there = await answer(client, group, here)
      for (const [channel, buckets] of there) answers.set(keyOf(group, channel), buckets)
    }
  }
  await Promise.all(Array.from({ length: Math.min(AT_ONCE, groups.length) }, work))
  const given = new Set<Buckets>()
  return queries.map((query) => {
    const buckets = answers.get(keyOf({ ...reach(query), step: query.step }, query.channel))!
    // Answers move to the caller; one that was asked for twice is two.
    if (given.has(buckets)) return structuredClone(buckets)
    given.add(buckets)
    return buckets
  })
}

/** Some channels of a probe over the same moments. */
export interface Stretch {
  readonly probe: string
  readonly channels: readonly string[]
  readonly from: number
  readonly to: number
}
type Group = Stretch & { readonly step: Step }

const channelsOf = (queries: readonly BucketQuery[]): string[] => [
  ...new Set(queries.map(({ channel }) => channel)),
]
const keyOf = ({ probe, from, to, step }: Omit<Group, 'channels'>, channel: string): string =>
  JSON.stringify([probe, channel, from, to, step])

/** The moments that the buckets of a query are made of: whole buckets that start within it. */
function reach({ probe, from, to, step }: BucketQuery): Omit<Stretch, 'channels'> {
  const width = STEP_MS[step]
  const up = (t: number): number => (width === 0 ? Math.ceil(t) : Math.ceil(t / width) * width)
  return { probe, from: up(from), to: up(to) }
}

async function answer(
  client: Pick<InfluxClient, 'querySeries'>,
  group: Group,
  local: ByChannel<Sample>,
): Promise<Map<string, Buckets>> {
  const { step, channels } = group
  if (step === 'raw') {
    const there = await samples(client, group)
    return new Map(
      channels.map((channel) => [
        channel,
        fromSamples(merge(there.get(channel) ?? [], local.get(channel) ?? [])),
      ]),
    )
  }
  const width = STEP_MS[step]
  const rows = await rolled(client, group, step)
  const made = new Map(
    channels.map((channel) => [
      channel,
      new Map((rows.get(channel) ?? []).map((row) => [row.time, row])),
    ]),
  )
  for (const stretch of stretches([...local.values()].flat(), width)) {
    const there = await samples(client, { ...group, ...stretch })
    for (const [channel, waiting] of local) {
      const inside = waiting.filter(({ t }) => t >= stretch.from && t < stretch.to)
      if (inside.length === 0) continue
      const all = merge(there.get(channel) ?? [], inside)
      for (const [time, some] of Map.groupBy(all, ({ t }) => Math.floor(t / width) * width)) {
        made.get(channel)!.set(time, { time, ...rollUpOf(some.map(({ value }) => value)) })
      }
    }
  }
  return new Map(
    [...made].map(([channel, of]) => [
      channel,
      fromRows(
        step,
        [...of.values()].sort((a, b) => a.time - b.time),
      ),
    ]),
  )
}

/** Touched buckets as stretches of time, few of them. */
export function stretches(
  local: readonly Sample[],
  width: number,
): { readonly from: number; readonly to: number }[] {
  const starts = [...new Set(local.map(({ t }) => Math.floor(t / width) * width))].sort(
    (a, b) => a - b,
  )
  for (let gap = width; ; gap *= 4) {
    const all: { from: number; to: number }[] = []
    for (const from of starts) {
      const last = all.at(-1)
      if (last !== undefined && from - last.to < gap) last.to = from + width
      else all.push({ from, to: from + width })
    }
    if (all.length <= MOST_STRETCHES) return all
  }
}

/** Two ascending lists as one; of two at the same moment, which are the same reading, the one that is here. */
function merge(there: readonly Sample[], here: readonly Sample[]): Sample[] {
  if (here.length === 0) return [...there]
  const all = new Map<number, Sample>()
  for (const sample of there) all.set(sample.t, sample)
  for (const sample of here) all.set(sample.t, sample)
  return [...all.values()].sort((a, b) => a.t - b.t)
}

const clamp = (t: number): number => Math.min(Math.max(t, EARLIEST), LATEST)

/** Conditions on the points of a stretch. */
const where = ({ from, to }: Stretch): string =>
  `WHERE "probe" = $probe AND time >= ${clamp(from)}ms AND time < ${clamp(to)}ms`

/** Every value of the channels, in pages. */
async function samples(
  client: Pick<InfluxClient, 'querySeries'>,
  stretch: Stretch,
): Promise<ByChannel<Sample>> {
  const { probe, channels, to } = stretch
  const fields = channels.map(fieldOf)
  const columns = fields.flatMap((field) => [quoteName(field), quoteName(field + FAILED)])
  const all = new Map<string, Sample[]>(channels.map((channel) => [channel, []]))
  for (let { from } = stretch; clamp(from) < clamp(to);) {
    const [series] = await client.querySeries(
      `SELECT ${columns.join(', ')} FROM "reading" ${where({ ...stretch, from })} ` +
        `ORDER BY time LIMIT ${PAGE}`,
      { probe: fieldOf(probe) },
    )
    const rows = (series?.values ?? []) as readonly (readonly (number | null)[])[]
    for (const [c, channel] of channels.entries()) {
      const into = all.get(channel)!
      for (const row of rows) {
        const value = row[1 + 2 * c] ?? null
        if (value === null && (row[2 + 2 * c] ?? null) === null) continue
        into.push({ t: row[0]!, value: value ?? NaN })
      }
    }
    if (rows.length < PAGE && series?.partial !== true) break
    from = rows.at(-1)![0]! + 1
  }
  return all
}

/** What an hour or a day shows, as functions of InfluxQL, in the order of their columns. */
const SHOWN = ['count', 'min', 'mean', 'max', 'median'] as const

/** Hours or days as the server makes them. */
async function rolled(
  client: Pick<InfluxClient, 'querySeries'>,
  stretch: Stretch,
  step: 'hour' | 'day',
): Promise<ByChannel<Row>> {
  const { probe, channels, to } = stretch
  const columns = channels.flatMap((channel) => {
    const field = fieldOf(channel)
    return [
      ...SHOWN.map((shown) => `${shown}(${quoteName(field)})`),
      `count(${quoteName(field + FAILED)})`,
    ]
  })
  const rows: (readonly (number | null)[])[] = []
  for (let { from } = stretch; clamp(from) < clamp(to);) {
    const [series] = await client.querySeries(
      `SELECT ${columns.join(', ')} FROM "reading" ${where({ ...stretch, from })} ` +
        `GROUP BY time(${step === 'hour' ? '1h' : '1d'}) fill(none) LIMIT ${PAGE}`,
      { probe: fieldOf(probe) },
    )
    const some = (series?.values ?? []) as readonly (readonly (number | null)[])[]
    rows.push(...some)
    if (some.length < PAGE && series?.partial !== true) break
    from = some.at(-1)![0]! + STEP_MS[step]
  }
  const width = SHOWN.length + 1
  return new Map(
    channels.map((channel, c) => {
      const of: Row[] = []
      for (const row of rows) {
        const start = 1 + c * width
        const [count, min, mean, max, median, failed] = row.slice(start, start + width)
        if ((count ?? 0) === 0 && (failed ?? 0) === 0) continue
        of.push({
          time: row[0]!,
          count: count ?? 0,
          min: min ?? NaN,
          mean: mean ?? NaN,
          max: max ?? NaN,
          median: median ?? NaN,
        })
      }
      return [channel, of]
    }),
  )
}

function fromSamples(all: readonly Sample[]): Buckets {
  const time = Float64Array.from(all, ({ t }) => t)
  const value = Float64Array.from(all, ({ value: v }) => v)
  const count = value.map((v) => (Number.isNaN(v) ? 0 : 1))
  return { step: 'raw', time, count, min: value, mean: value, max: value, median: value }
}

function fromRows(step: Step, rows: readonly Row[]): Buckets {
  const column = (name: keyof Row): Float64Array => Float64Array.from(rows, (row) => row[name])
  return {
    step,
    time: column('time'),
    count: column('count'),
    min: column('min'),
    mean: column('mean'),
    max: column('max'),
    median: column('median'),
  }
}
