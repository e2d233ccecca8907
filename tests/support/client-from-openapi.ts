import type { Document, Operation, Schema } from '#hub/api/open-api/document.ts'

/** A type of TypeScript for a JSON Schema, as far as the hub's document uses them. */
export function typeOf(schema: Schema): string {
  const { $ref: reference, type, enum: values, const: only, anyOf, oneOf, allOf } = schema
  if (typeof reference === 'string') return reference.replace('#/components/schemas/', '')
  if (only !== undefined) return JSON.stringify(only)
  if (Array.isArray(values)) return values.map((value) => JSON.stringify(value)).join(' | ')
  const several = (anyOf ?? oneOf) as readonly Schema[] | undefined
  if (several !== undefined) return several.map((one) => `(${typeOf(one)})`).join(' | ')
  if (allOf !== undefined) {
    return (allOf as readonly Schema[]).map((one) => `(${typeOf(one)})`).join(' & ')
  }
  if (Array.isArray(type)) {
    return (type as string[]).map((one) => typeOf({ ...schema, type: one })).join(' | ')
  }
  switch (type) {
    case 'string':
    case 'boolean':
    case 'null':
    case 'number':
      return type
    case 'integer':
      return 'number'
    case 'array': {
      const { prefixItems, items } = schema
      if (Array.isArray(prefixItems)) {
        const rest = typeof items === 'object' ? `, ...(${typeOf(items as Schema)})[]` : ''
        return `[${(prefixItems as Schema[]).map(typeOf).join(', ')}${rest}]`
      }
      return `(${typeOf((items ?? {}) as Schema)})[]`
    }
    case 'object':
      return objectType(schema)
    default:
      return 'unknown'
  }
}

function objectType(schema: Schema): string {
  const properties = Object.entries((schema['properties'] ?? {}) as Record<string, Schema>)
  const required = new Set((schema['required'] ?? []) as string[])
  const members = properties.map(
    ([name, inner]) => `${JSON.stringify(name)}${required.has(name) ? '' : '?'}: ${typeOf(inner)}`,
  )
  const more = schema['additionalProperties']
  if (typeof more === 'object' && more !== null && properties.length === 0) {
    return `Record<string, ${typeOf(more as Schema)}>`
  }
  return `{ ${members.join('; ')} }`
}

const jsonOf = (body: Operation['responses'][string] | undefined): Schema | undefined =>
  body?.content?.['application/json']?.schema

/** One function of the client, or nothing where the address takes or gives something else than JSON. */
function functionOf(method: string, path: string, operation: Operation): string | null {
  const [success] = Object.entries(operation.responses).filter(([code]) => code.startsWith('2'))
  const answer = jsonOf(success?.[1])
  const sent = operation.requestBody
  if (sent !== undefined && jsonOf(sent) === undefined) return null
  if (answer === undefined && success?.[1].content !== undefined) return null
  const parameters = operation.parameters ?? []
  const named = (place: string): string =>
    parameters
      .filter((p) => p.in === place)
      .map(({ name, required, schema }) => {
        const type = place === 'path' ? 'string | number' : `${typeOf(schema ?? {})} | string`
        return `${JSON.stringify(name)}${required === true ? '' : '?'}: ${type}`
      })
      .join('; ')
  const [inPath, inQuery] = [named('path'), named('query')]
  const anyRequired = parameters.some((p) => p.in === 'query' && p.required === true)
  const takes = [
    inPath === '' ? '' : `path: { ${inPath} }`,
    sent === undefined ? '' : `body: ${typeOf(jsonOf(sent)!)}`,
    inQuery === '' ? '' : `query${anyRequired ? '' : '?'}: { ${inQuery} }`,
  ].filter((one) => one !== '')
  const gives = answer === undefined ? 'void' : typeOf(answer)
  const given = `{ path: ${inPath === '' ? '{}' : 'path'}, query: ${inQuery === '' ? '{}' : 'query ?? {}'}, body: ${sent === undefined ? 'undefined' : 'body'} }`
  return (
    `    /** ${(operation.summary ?? '').replaceAll('*/', '')} */\n` +
    `    ${operation.operationId}: (${takes.join(', ')}): Promise<${gives}> =>\n` +
    `      ask('${method.toUpperCase()}', ${JSON.stringify(path)}, ${given}),`
  )
}

const CALL = `
export class HubProblem extends Error {
  readonly problem: Problem
  constructor(problem: Problem) {
    super(problem.detail ?? problem.title)
    this.problem = problem
  }
}

interface Given {
  path: object
  query: object
  body: unknown
}

export function createClient(base: string, headers: Record<string, string> = {}) {
  async function ask<T>(method: string, path: string, given: Given): Promise<T> {
    let url = path
    for (const [name, value] of Object.entries(given.path)) {
      url = url.replace('{' + name + '}', encodeURIComponent(String(value)))
    }
    const query = new URLSearchParams()
    for (const [name, value] of Object.entries(given.query)) {
      if (value !== undefined) query.set(name, String(value))
    }
    const search = query.size === 0 ? '' : '?' + query.toString()
    const response = await fetch(base + url + search, {
      method,
      headers: { ...headers, ...(given.body === undefined ? {} : { 'content-type': 'application/json' }) },
      ...(given.body === undefined ? {} : { body: JSON.stringify(given.body) }),
    })
    if (!response.ok) throw new HubProblem((await response.json()) as Problem)
    return (response.status === 204 ? undefined : await response.json()) as T
  }
  return {
`

/** The text of a module with a type for every schema and a function for every operation that speaks JSON. */
export function clientFrom(document: Document): string {
  const types = Object.entries(document.components.schemas ?? {}).map(
    ([name, schema]) => `export type ${name} = ${typeOf(schema)}\n`,
  )
  const functions = Object.entries(document.paths).flatMap(([path, item]) =>
    Object.entries(item).flatMap(([method, operation]) =>
      path.startsWith('/api/') ? (functionOf(method, path, operation) ?? []) : [],
    ),
  )
  return `${types.join('\n')}${CALL}${functions.join('\n')}\n  }\n}\n`
}
