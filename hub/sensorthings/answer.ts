import type { ReadingStore } from '../store/reading-store.ts'
import { CONFORMANCE } from './conformance.ts'
import {
  COLLECTIONS,
  type CollectionName,
  collectionOf,
  type Entity,
  type EntityId,
  type EntityType,
  idInPath,
  PROPERTIES,
  RELATIONS,
} from './data-model.ts'
import { type Entities, observationName } from './entities.ts'
import { badRequest, StaFault } from './fault.ts'
import { observationEntity, observations, type Scope } from './observations.ts'
import { type Page, pageOf, pageOfObservations } from './paging.ts'
import { type Query, readQuery, splitOutside } from './query.ts'

/** What the interface needs: the entities, the readings, and its own address. */
export interface SensorThings {
  readonly entities: Entities
  readonly readings: ReadingStore
  /** Such as `http://127.0.0.1:8090/sta/v1.1`. */
  readonly root: string
}

export type Answer =
  | { readonly kind: 'json'; readonly body: unknown }
  | { readonly kind: 'text'; readonly body: string }
  | { readonly kind: 'nothing' }

type Source = { readonly type: EntityType; readonly list: readonly Entity[] | Scope }
type Place =
  | ({ readonly kind: 'many'; readonly link: string } & Source)
  | { readonly kind: 'one'; readonly entity: Entity }
  | { readonly kind: 'value'; readonly name: string; readonly value: unknown }

const notFound = (what: string): StaFault => new StaFault(404, what)
const ALWAYS = { from: 0, to: 8.64e15 }

const isScope = (list: readonly Entity[] | Scope): list is Scope => 'streams' in list

/** What hangs on an entity by a navigation property. */
function linked({ entities }: SensorThings, entity: Entity, name: string): Source {
  const { to: type } = RELATIONS[entity.type][name]!
  if (type !== 'Observation') return { type, list: entities.related(entity, name) }
  const { streams } = entities
  const list: Scope =
    entity.type === 'Datastream'
      ? { streams: streams.filter(({ id }) => id === entity.id), spot: null, ...ALWAYS }
      : { streams, spot: Number(entity.id), ...ALWAYS }
  return { type, list }
}

async function findIn(sta: SensorThings, source: Source, id: EntityId): Promise<Entity | null> {
  const { list } = source
  if (!isScope(list)) return list.find((one) => one.id === id) ?? null
  const named = observationName(id)
  const stream = list.streams.find((one) => one.id === named?.stream)
  if (named === null || stream === undefined || named.at >= ALWAYS.to) return null
  const scope = { ...list, streams: [stream], from: named.at, to: named.at + 1 }
  const all = await Array.fromAsync(observations(sta.readings, sta.entities.records, scope, false))
  const [found] = all
  return found === undefined ? null : observationEntity(found)
}

function idOf(text: string): EntityId {
  const quoted = /^'((?:[^']|'')*)'$/s.exec(text)
  if (quoted !== null) return quoted[1]!.replaceAll("''", "'")
  if (/^\d{1,15}$/.test(text)) return Number(text)
  throw badRequest(`expected a number or a text in quotes as id, got '${text}'`)
}

const linkOf = (sta: SensorThings, { type, id }: Entity): string =>
  `${sta.root}/${collectionOf(type)}(${idInPath(id)})`

async function step(sta: SensorThings, place: Place | null, segment: string): Promise<Place> {
  const [, name = '', key] = /^([\w$@.]+)(?:\((.*)\))?$/s.exec(segment) ?? []
  if (name === '') throw badRequest(`expected a name, got '${segment}'`)
  if (place?.kind === 'many') throw badRequest(`expected an id before '/${segment}'`)
  if (place?.kind === 'value') {
    const inner =
      typeof place.value === 'object' && place.value !== null && Object.hasOwn(place.value, name)
        ? (place.value as Record<string, unknown>)[name]
        : undefined
    if (inner === undefined) throw notFound(`${place.name} has no '${name}'`)
    return { kind: 'value', name, value: inner }
  }
  let source: Source
  let link: string
  if (place === null) {
    if (!Object.hasOwn(COLLECTIONS, name)) {
      throw notFound(`expected one of ${Object.keys(COLLECTIONS).join(', ')}, got '${name}'`)
    }
    const type = COLLECTIONS[name as CollectionName]
    const { streams } = sta.entities
    source = {
      type,
      list: type === 'Observation' ? { streams, spot: null, ...ALWAYS } : sta.entities.all(type),
    }
    link = `${sta.root}/${name}`
  } else {
    const { entity } = place
    const { type } = entity
    if (name === 'id' || name === '@iot.id')
      return { kind: 'value', name: '@iot.id', value: entity.id }
    const relation = RELATIONS[type][name]
    if (relation === undefined) {
      if (!PROPERTIES[type].includes(name) || key !== undefined) {
        throw notFound(`a ${type} has no '${segment}'`)
      }
      return { kind: 'value', name, value: entity.properties[name] ?? null }
    }
    source = linked(sta, entity, name)
    link = `${linkOf(sta, entity)}/${name}`
    if (!relation.many) {
      const [found] = isScope(source.list) ? [] : source.list
      if (found === undefined || key !== undefined) throw notFound(`no such ${relation.to}`)
      return { kind: 'one', entity: found }
    }
  }
  if (key === undefined) return { kind: 'many', link, ...source }
  const found = await findIn(sta, source, idOf(key))
  if (found === null) throw notFound(`no such ${source.type}: ${key}`)
  return { kind: 'one', entity: found }
}

const page = (sta: SensorThings, { list }: Source, query: Query): Promise<Page> | Page =>
  isScope(list)
    ? pageOfObservations(sta.entities, sta.readings, list, query)
    : pageOf(sta.entities, list, query)

function nextLink(link: string, query: Query, { next, entities }: Page): string | null {
  if (next === null) return null
  // How many are still wanted, when a number was asked for that one page cannot hold.
  const { top } = query
  const left = top === null ? null : top - entities.length
  const pairs = query.pairs.filter(([name]) => !['$skip', '$skiptoken', '$top'].includes(name))
  const size = left === null ? [] : left > 0 ? [['$top', String(left)]] : [['$top', String(top)]]
  const search = [...pairs, ...size, next].map(
    ([name, value]) => `${name}=${encodeURIComponent(value ?? '')}`,
  )
  return `${link}?${search.join('&')}`
}

/** An entity as JSON, OGC 18-088 clauses 8.1 and 9.3.3.2 ff. */
async function entityJson(
  sta: SensorThings,
  entity: Entity,
  query: Query,
): Promise<Record<string, unknown>> {
  const self = linkOf(sta, entity)
  const wants = (name: string): boolean => query.select === null || query.select.includes(name)
  const json: Record<string, unknown> = {}
  if (wants('id')) json['@iot.id'] = entity.id
  if (wants('id') || query.select?.includes('@iot.selfLink') === true) json['@iot.selfLink'] = self
  for (const [name, value] of Object.entries(entity.properties)) {
    if (wants(name)) json[name] = value
  }
  for (const [name, relation] of Object.entries(RELATIONS[entity.type])) {
    const expansion = query.expand.find((one) => one.name === name)
    if (expansion === undefined) {
      if (wants(name)) json[`${name}@iot.navigationLink`] = `${self}/${name}`
      continue
    }
    const source = linked(sta, entity, name)
    if (!relation.many) {
      const [found] = isScope(source.list) ? [] : source.list
      json[name] = found === undefined ? null : await entityJson(sta, found, expansion.query)
      continue
    }
    const found = await page(sta, source, expansion.query)
    if (found.count !== null) json[`${name}@iot.count`] = found.count
    json[name] = await listJson(sta, found, expansion.query)
    const next = nextLink(`${self}/${name}`, expansion.query, found)
    if (next !== null) json[`${name}@iot.nextLink`] = next
  }
  return json
}

async function listJson(
  sta: SensorThings,
  { entities }: Page,
  query: Query,
): Promise<readonly Record<string, unknown>[]> {
  const list: Record<string, unknown>[] = []
  for (const entity of entities) list.push(await entityJson(sta, entity, query))
  return list
}

/**
 * Answers a read request of OGC SensorThings API 1.1 (OGC 18-088 clauses 9.2 and 9.3).
 *
 * @param path what follows the root, decoded, without a leading slash; '' for the root itself
 * @throws StaFault what is wrong with the request
 */
export async function answer(
  sta: SensorThings,
  path: string,
  search: URLSearchParams,
): Promise<Answer> {
  const segments = splitOutside(path, '/').filter((segment) => segment !== '')
  if (segments.length === 0) {
    return {
      kind: 'json',
      body: {
        value: Object.keys(COLLECTIONS).map((name) => ({ name, url: `${sta.root}/${name}` })),
        serverSettings: { conformance: CONFORMANCE },
      },
    }
  }
  const end = segments.at(-1)
  const ending = end === '$ref' || end === '$value' ? end : null
  let place: Place | null = null
  for (const segment of ending === null ? segments : segments.slice(0, -1)) {
    place = await step(sta, place, segment)
  }
  if (place === null) throw badRequest(`expected something before /${ending ?? ''}`)

  if (place.kind === 'value') {
    if ([...search.keys()].some((name) => name.startsWith('$'))) {
      throw badRequest('expected no query options for a single property')
    }
    const { name, value } = place
    if (ending === '$ref') throw badRequest('expected entities before /$ref, got a property')
    if (value === null) return { kind: 'nothing' }
    if (ending === null) return { kind: 'json', body: { [name]: value } }
    return { kind: 'text', body: typeof value === 'string' ? value : JSON.stringify(value) }
  }
  if (ending === '$value') throw badRequest('expected a property before /$value')
  if (place.kind === 'one') {
    const { entity } = place
    const query = readQuery(entity.type, search)
    const odd = query.pairs.find(
      ([name]) => !['$select', '$expand'].includes(name) && name.startsWith('$'),
    )
    if (odd !== undefined) throw badRequest(`expected no ${odd[0]} for a single entity`)
    if (ending === '$ref') return { kind: 'json', body: { '@iot.selfLink': linkOf(sta, entity) } }
    return { kind: 'json', body: await entityJson(sta, entity, query) }
  }
  const query = readQuery(place.type, search)
  const found = await page(sta, place, query)
  const next = nextLink(place.link + (ending === null ? '' : '/$ref'), query, found)
  const value =
    ending === '$ref'
      ? found.entities.map((one) => ({ '@iot.selfLink': linkOf(sta, one) }))
      : await listJson(sta, found, query)
  return {
    kind: 'json',
    body: {
      ...(found.count === null ? {} : { '@iot.count': found.count }),
      ...(next === null ? {} : { '@iot.nextLink': next }),
      value,
    },
  }
}
