import type { ReadingStore } from '../store/reading-store.ts'
import type { Entity } from './data-model.ts'
import type { Entities } from './entities.ts'
import { holds, isMoment, type Moment, timeRange, type Value } from './expression.ts'
import { badRequest } from './fault.ts'
import {
  countByDays,
  observationEntity,
  observations,
  type Observed,
  type Scope,
} from './observations.ts'
import type { OrderKey, Query } from './query.ts'

/** Entities of one answer unless fewer are asked for, and the most there are. */
const PAGE = 100
const MOST = 1000
/** Sorted by something else than time, so many are held at a time. */
const MOST_SORTED = 10_000

export interface Page {
  readonly entities: readonly Entity[]
  /** Null: not asked for. */
  readonly count: number | null
  /** Options that lead to the next page instead of `$skip`; null: this is the last. */
  readonly next: readonly [string, string] | null
}

const TIMES = new Set(['phenomenonTime', 'resultTime', 'time'])

function valueOf(value: unknown, name: string): Value {
  if (value === undefined || value === null) return null
  if (TIMES.has(name) && typeof value === 'string') {
    return { moment: Date.parse(value) } satisfies Moment
  }
  if (typeof value === 'object') return JSON.stringify(value)
  return value as string | number | boolean
}

/** What stands at a path that begins at an entity; several where it passes several. */
export function valuesAt(
  entities: Entities,
  entity: Entity,
  path: readonly string[],
): readonly Value[] {
  const [step = '', ...rest] = path
  if (step === 'id' || step === '@iot.id') return [entity.id]
  if (step in entity.properties || rest.length === 0) {
    let value = entity.properties[step]
    for (const name of rest) {
      value =
        typeof value === 'object' && value !== null
          ? (value as Record<string, unknown>)[name]
          : undefined
    }
    return [valueOf(value, step)]
  }
  // A property that an entity does not have is null; a path through it too.
  if (!/^[A-Z]/.test(step)) return [null]
  return entities.related(entity, step).flatMap((one) => valuesAt(entities, one, rest))
}

/** Order of the kinds of values among each other: nothing first. */
const rank = (v: Value): number => (v === null ? 0 : typeof v === 'string' ? 2 : 1)
function compareValues(a: Value, b: Value): number {
  const ranks = rank(a) - rank(b)
  if (ranks !== 0 || a === null || b === null) return ranks
  if (typeof a === 'string' && typeof b === 'string') return a < b ? -1 : a > b ? 1 : 0
  const number = (v: Value): number => (v !== null && isMoment(v) ? v.moment : Number(v))
  return number(a) - number(b)
}

type Keyed = { readonly entity: Entity; readonly keys: readonly Value[] }

const keyed = (entities: Entities, entity: Entity, orderby: readonly OrderKey[]): Keyed => ({
  entity,
  keys: orderby.map(({ path }) => valuesAt(entities, entity, path)[0] ?? null),
})

const byKeys =
  (orderby: readonly OrderKey[]) =>
  (a: Keyed, b: Keyed): number => {
    for (const [i, { descending }] of orderby.entries()) {
      const d = compareValues(a.keys[i] ?? null, b.keys[i] ?? null)
      if (d !== 0) return descending ? -d : d
    }
    return 0
  }

const sizeOf = ({ top }: Query): number => Math.min(top ?? PAGE, MOST)

/** A page of entities that are all at hand. Options act in the order of OGC 18-088 clause 9.3.3.1. */
export function pageOf(entities: Entities, list: readonly Entity[], query: Query): Page {
  const { filter, orderby, skip } = query
  const chosen =
    filter === null
      ? list
      : list.filter((one) => holds(filter, (path) => valuesAt(entities, one, path)))
  const sorted =
    orderby.length === 0
      ? chosen
      : chosen
          .map((one) => keyed(entities, one, orderby))
          .sort(byKeys(orderby))
          .map(({ entity }) => entity)
  const size = sizeOf(query)
  return {
    entities: sorted.slice(skip, skip + size),
    count: query.count ? chosen.length : null,
    next: sorted.length > skip + size && size > 0 ? ['$skip', String(skip + size)] : null,
  }
}

/** Whether the order asked for is the one of time, in which observations are read anyway. */
function timeOrder(orderby: readonly OrderKey[]): 'up' | 'down' | null {
  const [first, ...rest] = orderby
  if (first === undefined) return 'up'
  if (rest.length > 0 || first.path.length > 1 || !TIMES.has(first.path[0]!)) return null
  return first.descending ? 'down' : 'up'
}

const keyOf = ({ at, stream }: Observed): string => `${at}~${stream.id}`

/** A page of observations, read from the store as far as it has to be. */
export async function pageOfObservations(
  entities: Entities,
  readings: ReadingStore,
  scope: Scope,
  query: Query,
): Promise<Page> {
  const { filter, skip } = query
  const range = timeRange(filter)
  const narrowed: Scope = {
    ...scope,
    from: Math.max(scope.from, range.from),
    to: Math.min(scope.to, range.to),
  }
  const isMeant = (entity: Entity): boolean =>
    filter === null || holds(filter, (path) => valuesAt(entities, entity, path))
  const read = (of: Scope, descending: boolean): AsyncGenerator<Observed> =>
    observations(readings, entities.records, of, descending)

  async function countAll(): Promise<number> {
    const quick = range.exact ? await countByDays(readings, narrowed) : null
    if (quick !== null) return quick
    let n = 0
    for await (const one of read(narrowed, false)) if (isMeant(observationEntity(one))) n++
    return n
  }

  const size = sizeOf(query)
  const count = query.count ? await countAll() : null
  if (size === 0) return { entities: [], count, next: null }
  const order = timeOrder(query.orderby)
  if (order === null) {
    if (skip + size > MOST_SORTED) {
      throw badRequest(
        `$orderby: by something else than phenomenonTime expected $skip and $top up to ${MOST_SORTED} together, got ${skip + size}`,
      )
    }
    const best = await sorted(entities, read(narrowed, false), isMeant, query, skip + size + 1)
    return {
      entities: best.slice(skip, skip + size),
      count,
      next: best.length > skip + size ? ['$skip', String(skip + size)] : null,
    }
  }

  const found: Entity[] = []
  const descending = order === 'down'
  const after = query.after === null ? null : afterOf(query.after)
  const places = new Map(scope.streams.map(({ id }, i) => [id, i]))
  const rest: Scope =
    after === null
      ? narrowed
      : descending
        ? { ...narrowed, to: Math.min(narrowed.to, after.at + 1) }
        : { ...narrowed, from: Math.max(narrowed.from, after.at) }
  let left = skip
  let last = ''
  for await (const one of read(rest, descending)) {
    if (after !== null && one.at === after.at) {
      const d = (places.get(one.stream.id) ?? 0) - (places.get(after.stream) ?? -1)
      if (descending ? d >= 0 : d <= 0) continue
    }
    const entity = observationEntity(one)
    if (!isMeant(entity)) continue
    if (left > 0) {
      left--
      continue
    }
    if (found.length === size) {
      return { entities: found, count, next: ['$skiptoken', last] }
    }
    found.push(entity)
    last = keyOf(one)
  }
  return { entities: found, count, next: null }
}

function afterOf(text: string): { readonly at: number; readonly stream: string } {
  const found = /^(\d{1,16})~(.+)$/.exec(text)
  if (found === null) throw badRequest(`$skiptoken: expected one of our own, got '${text}'`)
  return { at: Number(found[1]), stream: found[2]! }
}

/** The first `most` by the order asked for; never holds more than a few times as many. */
async function sorted(
  entities: Entities,
  all: AsyncGenerator<Observed>,
  isMeant: (entity: Entity) => boolean,
  { orderby }: Query,
  most: number,
): Promise<readonly Entity[]> {
  const compare = byKeys(orderby)
  let best: Keyed[] = []
  const trim = (): void => {
    best.sort(compare)
    best = best.slice(0, most)
  }
  for await (const one of all) {
    const entity = observationEntity(one)
    if (!isMeant(entity)) continue
    best.push(keyed(entities, entity, orderby))
    if (best.length >= 2 * most + 1000) trim()
  }
  trim()
  return best.map(({ entity }) => entity)
}
