import { type EntityType, PROPERTIES, RELATIONS } from './data-model.ts'
import { type Expression, parseExpression, pathsIn } from './expression.ts'
import { badRequest, notOffered } from './fault.ts'

export interface Expansion {
  /** Name of the navigation property. */
  readonly name: string
  readonly query: Query
}
export interface OrderKey {
  readonly path: readonly string[]
  readonly descending: boolean
}

/** The query options of one collection or entity, read and held against the data model. */
export interface Query {
  readonly filter: Expression | null
  readonly count: boolean
  readonly orderby: readonly OrderKey[]
  readonly skip: number
  /** Null: the server's own page. */
  readonly top: number | null
  /** Null: everything. */
  readonly select: readonly string[] | null
  readonly expand: readonly Expansion[]
  /** Where the page before ended; of our own making. */
  readonly after: string | null
  /** The options as they were written, for the address of the next page. */
  readonly pairs: readonly (readonly [string, string])[]
}

export const NO_QUERY: Query = {
  filter: null,
  count: false,
  orderby: [],
  skip: 0,
  top: null,
  select: null,
  expand: [],
  after: null,
  pairs: [],
}

/** Levels of $expand. */
const MOST_LEVELS = 4
const MOST_EXPANSIONS = 20
/** Options of the standard or of OData that this interface does not have. */
const NOT_HERE = new Set(['$resultFormat', '$search', '$apply', '$format', '$compute', '$levels'])

/** Splits at a character that stands outside of quotes and brackets. */
export function splitOutside(text: string, at: string): string[] {
  const parts: string[] = []
  let [depth, quoted, start] = [0, false, 0]
  for (let i = 0; i < text.length; i++) {
    const c = text[i]
    if (c === "'") quoted = !quoted
    if (quoted) continue
    if (c === '(') depth++
    if (c === ')') depth--
    if (c === at && depth === 0) {
      parts.push(text.slice(start, i))
      start = i + 1
    }
  }
  if (quoted || depth !== 0) {
    throw badRequest(`expected as many closing as opening quotes and brackets, got '${text}'`)
  }
  return [...parts, text.slice(start)]
}

function wholeOf(name: string, text: string): number {
  if (!/^\d{1,15}$/.test(text)) throw badRequest(`${name}: expected a whole number, got '${text}'`)
  return Number(text)
}

/**
 * A path that leads from one entity to a value: navigation properties, then a property; within a property that is an
 * object any name.
 */
function checkPath(option: string, type: EntityType, path: readonly string[]): void {
  let here = type
  for (const [i, step] of path.entries()) {
    const relation = RELATIONS[here][step]
    if (relation !== undefined) {
      if (i === path.length - 1) throw badRequest(`${option}: expected a property of ${step}`)
      if (relation.to === 'Observation') {
        throw notOffered(`${option}: ${here}s cannot be chosen by their Observations here`)
      }
      here = relation.to
      continue
    }
    if (step === 'id' || step === '@iot.id' || PROPERTIES[here].includes(step)) return
    throw badRequest(
      `${option}: expected a property of ${here} (id, ${PROPERTIES[here].join(', ')}) or one of ${Object.keys(RELATIONS[here]).join(', ')}, got '${step}'`,
    )
  }
}

function orderKeys(type: EntityType, text: string): OrderKey[] {
  return splitOutside(text, ',').map((part) => {
    const found = /^\s*([\w@./]+)(?:\s+(asc|desc))?\s*$/.exec(part)
    if (found === null) {
      throw badRequest(`$orderby: expected a property, asc or desc after it, got '${part.trim()}'`)
    }
    const path = found[1]!.split('/')
    checkPath('$orderby', type, path)
    return { path, descending: found[2] === 'desc' }
  })
}

function selection(type: EntityType, text: string): string[] {
  return text.split(',').map((part) => {
    const name = part.trim()
    const known = [
      'id',
      '@iot.id',
      '@iot.selfLink',
      ...PROPERTIES[type],
      ...Object.keys(RELATIONS[type]),
    ]
    if (!known.includes(name)) {
      throw badRequest(`$select: expected some of ${known.join(', ')}, got '${name}'`)
    }
    return name === '@iot.id' ? 'id' : name
  })
}

function expansions(type: EntityType, text: string, level: number): Expansion[] {
  if (level > MOST_LEVELS) throw badRequest(`$expand: expected at most ${MOST_LEVELS} levels`)
  const made = new Map<string, Expansion>()
  for (const part of splitOutside(text, ',')) {
    const [head = '', ...rest] = splitOutside(part.trim(), '/')
    const found = /^(\w+)(?:\((.*)\))?$/s.exec(head.trim())
    const relation = found === null ? undefined : RELATIONS[type][found[1]!]
    if (found === null || relation === undefined) {
      throw badRequest(
        `$expand: expected some of ${Object.keys(RELATIONS[type]).join(', ')}, got '${head.trim()}'`,
      )
    }
    const name = found[1]!
    const options = found[2] === undefined ? [] : splitOutside(found[2], ';')
    const pairs = options.map((option): [string, string] => {
      const at = option.indexOf('=')
      if (at < 0) throw badRequest(`$expand: expected options such as $top=1, got '${option}'`)
      return [option.slice(0, at).trim(), option.slice(at + 1)]
    })
    const own = readPairs(relation.to, pairs, level + 1)
    const deeper = rest.length === 0 ? [] : expansions(relation.to, rest.join('/'), level + 1)
    const before = made.get(name)?.query
    const further = [
      ...(before?.pairs ?? []).filter(([option]) => option === '$expand'),
      ...own.pairs.filter(([option]) => option === '$expand'),
      ...(rest.length === 0 ? [] : [['$expand', rest.join('/')] as const]),
    ].map(([, value]) => value)
    const query: Query = {
      ...(before ?? own),
      expand: [...(before?.expand ?? []), ...own.expand, ...deeper],
      pairs: [
        ...(before ?? own).pairs.filter(([option]) => option !== '$expand'),
        ...(further.length === 0 ? [] : [['$expand', further.join(',')] as const]),
      ],
    }
    made.set(name, { name, query })
  }
  return [...made.values()]
}

const weightOf = (list: readonly Expansion[]): number =>
  list.reduce((sum, { query }) => sum + 1 + weightOf(query.expand), 0)

function readPairs(
  type: EntityType,
  pairs: readonly (readonly [string, string])[],
  level: number,
): Query {
  let query: Query = { ...NO_QUERY, pairs }
  const seen = new Set<string>()
  for (const [name, text] of pairs) {
    if (!name.startsWith('$')) continue
    if (seen.has(name)) throw badRequest(`${name}: expected it once, got it twice`)
    seen.add(name)
    switch (name) {
      case '$filter': {
        const filter = parseExpression(text)
        for (const path of pathsIn(filter)) checkPath('$filter', type, path)
        query = { ...query, filter }
        break
      }
      case '$count':
        if (text !== 'true' && text !== 'false') {
          throw badRequest(`$count: expected true or false, got '${text}'`)
        }
        query = { ...query, count: text === 'true' }
        break
      case '$orderby':
        query = { ...query, orderby: orderKeys(type, text) }
        break
      case '$skip':
        query = { ...query, skip: wholeOf(name, text) }
        break
      case '$top':
        query = { ...query, top: wholeOf(name, text) }
        break
      case '$select':
        query = { ...query, select: selection(type, text) }
        break
      case '$expand':
        query = { ...query, expand: expansions(type, text, level) }
        break
      case '$skiptoken':
        query = { ...query, after: text }
        break
      default:
        if (NOT_HERE.has(name)) throw notOffered(`${name} is not offered here`)
        throw badRequest(
          `expected some of $filter, $count, $orderby, $skip, $top, $select, $expand, got '${name}'`,
        )
    }
  }
  return query
}

/**
 * Reads the query string of a request for entities of a type (OGC 18-088 clause 9.3.3).
 *
 * @throws StaFault 400 for what cannot be read, 501 for what is not offered
 */
export function readQuery(type: EntityType, search: URLSearchParams): Query {
  const query = readPairs(type, [...search], 1)
  if (weightOf(query.expand) > MOST_EXPANSIONS) {
    throw badRequest(`$expand: expected at most ${MOST_EXPANSIONS} expansions`)
  }
  return query
}
