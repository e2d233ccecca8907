import { needFor, type Need } from '../access-table.ts'
import type { Body, Document, Operation, Parameter, Schema } from './document.ts'
import { EXAMPLES } from './examples.ts'
import { ANSWERS, SENT } from './other-bodies.ts'
import { parameterWords } from './parameters.ts'
import { TAGS } from './tags.ts'

const TEXT = { type: 'string' } as const
const BYTES = { type: 'string', contentEncoding: 'binary' } as const

/** Interfaces of open standards that no route describes: their own documents do. */
const BESIDE: Document['paths'] = {
  '/metrics': {
    get: {
      summary: 'How the hub is and what beds and probes read, for a collector',
      description: 'OpenMetrics 1.0 text. Units stand in the names.',
      responses: {
        '200': {
          description: 'OpenMetrics text',
          content: { 'application/openmetrics-text': { schema: TEXT } },
        },
      },
    },
  },
  '/api/openapi.json': {
    get: {
      summary: 'This document',
      responses: {
        '200': {
          description: 'OpenAPI 3.1',
          content: { 'application/json': { schema: { type: 'object' } } },
        },
      },
    },
  },
  '/sta/v1.1': {
    get: {
      summary:
        'Readings by OGC SensorThings API 1.1: the collections, and what of the standard is met',
      description:
        'Things are probes, Locations are spots, Datastreams are channels as sent (probe:channel) and what the hub ' +
        'makes of them (probe:soil-ph, probe:soil-moisture, probe:soil-temperature).',
      responses: {
        '200': {
          description: 'the service root, OGC 18-088 clause 9.2.1',
          content: { 'application/json': { schema: { type: 'object' } } },
        },
      },
    },
  },
  '/sta/v1.1/{path}': {
    get: {
      summary: 'Entities, properties and links by OGC SensorThings API 1.1',
      description:
        "Such as Datastreams('heron1:soil-ph')/Observations?$orderby=phenomenonTime desc&$top=10. $filter, $count, " +
        '$orderby, $skip, $top, $select and $expand; functions in $filter are not offered.',
      parameters: [
        {
          name: 'path',
          in: 'path',
          required: true,
          description: 'what follows the root; slashes are part of it',
          schema: TEXT,
        },
        ...['$filter', '$orderby', '$select', '$expand', '$top', '$skip', '$count'].map(
          (name): Parameter => ({
            name,
            in: 'query',
            description: 'OGC 18-088 clause 9.3.3',
            schema: TEXT,
          }),
        ),
      ],
      responses: {
        '200': {
          description: 'entities',
          content: { 'application/json': { schema: { type: 'object' } } },
        },
        '204': { description: 'a property that has no value' },
        '501': { description: 'a part of the standard that is not offered here' },
      },
    },
  },
}

const PROBLEM_SCHEMA: Schema = { $ref: '#/components/schemas/Problem' }
const problem = (description: string, status: number, title: string, detail: string): Body => ({
  description,
  content: {
    'application/problem+json': {
      schema: PROBLEM_SCHEMA,
      example: { type: 'about:blank', title, status, detail },
    },
  },
})
const PROBLEMS = {
  400: problem(
    'a value cannot be used; errors names each',
    400,
    'The request cannot be used',
    'a value cannot be used',
  ),
  401: problem('not signed in', 401, 'Not signed in', 'Sign in first.'),
  403: problem('not allowed', 403, 'Not allowed', "expected a token with the scope 'change'"),
  404: problem('there is no such thing', 404, 'Not found', 'no such bed'),
  default: problem(
    'anything else that went wrong, RFC 9457',
    503,
    'Not available at the moment',
    'the store cannot be reached',
  ),
} as const

const NEEDS: Readonly<Record<Need, string>> = {
  anyone: 'Needs no sign-in.',
  'signed in': 'Needs a session of somebody who is signed in.',
  shared: 'Needs a share link that is good.',
  feed: 'Needs the scope read, or ?key= with the secret of the feed address.',
  read: 'Needs the scope read.',
  enter: 'Needs the scope enter.',
  change: 'Needs the scope change.',
  own: 'Needs the owner, or the scope own.',
}

/** The address as the router knows it. */
const routeOf = (path: string): string =>
  path.startsWith('/sta/') ? '/sta/*' : path.replaceAll(/\{(\w+)\}/g, ':$1')

/** `GET /api/beds/{id}/series` is `getBedsIdSeries`. */
export function operationId(method: string, path: string): string {
  const words = path
    .replace(/^\/api/, '')
    .split(/[^A-Za-z0-9]+/)
    .filter((word) => word !== '')
  return method + words.map((word) => word[0]!.toUpperCase() + word.slice(1)).join('')
}

function completeOperation(method: string, path: string, given: Operation): Operation {
  const key = `${method} ${path}`
  const need = needFor(method.toUpperCase(), routeOf(path))
  const parameters = (given.parameters ?? []).map((parameter): Parameter => {
    const said = parameter.description ?? parameter.schema?.['description']
    const description = typeof said === 'string' ? said : parameterWords(path, parameter.name)
    return description === undefined ? parameter : { ...parameter, description }
  })
  const sent = SENT[key]
  const requestBody =
    sent === undefined
      ? given.requestBody
      : { description: sent.words, required: true, content: { [sent.type]: { schema: BYTES } } }
  const examples = EXAMPLES[key]
  const takes = parameters.length > 0 || requestBody !== undefined
  const answers = Object.entries(given.responses).map(([status, body]): [string, Body] => {
    const other = ANSWERS[key]
    if (status === '200' && body.content === undefined && other !== undefined) {
      const schema = /text|xml/.test(other.type) ? TEXT : BYTES
      return [status, { description: other.words, content: { [other.type]: { schema } } }]
    }
    const words = body.description === 'Default Response' ? WORDS_BY_STATUS[status] : undefined
    return [
      status,
      withExample(words === undefined ? body : { ...body, description: words }, examples?.answer),
    ]
  })
  const refused: [string, Body][] = [
    ...(takes ? ([['400', PROBLEMS[400]]] as const) : []),
    ...(need === 'anyone'
      ? []
      : ([
          ['401', PROBLEMS[401]],
          ['403', PROBLEMS[403]],
        ] as const)),
    ...(path.includes('{') ? ([['404', PROBLEMS[404]]] as const) : []),
    ['default', PROBLEMS.default],
  ].map(([status, body]) => [status as string, body as Body])
  const [tag] = TAGS.filter(({ of }) => of.test(path))
  return {
    operationId: operationId(method, path),
    summary: given.summary ?? '',
    description: [given.description, NEEDS[need]].filter((text) => text !== undefined).join(' '),
    tags: tag === undefined ? [] : [tag.name],
    ...(parameters.length === 0 ? {} : { parameters }),
    ...(requestBody === undefined ? {} : { requestBody: withExample(requestBody, examples?.sent) }),
    responses: { ...Object.fromEntries(refused), ...Object.fromEntries(answers) },
    security: need === 'anyone' || need === 'shared' ? [] : SECURITY,
  }
}

const WORDS_BY_STATUS: Readonly<Record<string, string>> = {
  '200': 'what was asked for',
  '201': 'what was made',
  '202': 'what was begun',
  '204': 'done; nothing more to say',
}
const SECURITY = [{ session: [] }, { token: [] }]

function withExample(body: Body, example: unknown): Body {
  const json = body.content?.['application/json']
  if (json === undefined || example === undefined) return body
  return { ...body, content: { ...body.content, 'application/json': { ...json, example } } }
}

/** Component schemas that something refers to, directly or through others. */
function usedSchemas(paths: unknown, schemas: Readonly<Record<string, Schema>>) {
  const used = new Map<string, Schema>()
  const walk = (part: unknown): void => {
    if (typeof part !== 'object' || part === null) return
    const reference = (part as { $ref?: unknown }).$ref
    const name =
      typeof reference === 'string'
        ? /^#\/components\/schemas\/(.+)$/.exec(reference)?.[1]
        : undefined
    const schema = name === undefined ? undefined : schemas[name]
    if (name !== undefined && schema !== undefined && !used.has(name)) {
      used.set(name, schema)
      walk(schema)
    }
    for (const inner of Object.values(part)) walk(inner)
  }
  walk(paths)
  return Object.fromEntries([...used].sort(([a], [b]) => (a < b ? -1 : 1)))
}

/** The document with everything that no single route says: groups, problems, rights, examples. */
export function completeDocument(given: Document): Document {
  const paths = Object.fromEntries(
    Object.entries({ ...given.paths, ...BESIDE }).map(([path, item]) => [
      path,
      Object.fromEntries(
        Object.entries(item).map(([method, operation]) => [
          method,
          completeOperation(method, path, operation),
        ]),
      ),
    ]),
  )
  return {
    ...given,
    servers: [{ url: '/', description: 'this hub' }],
    tags: TAGS.map(({ name, description }) => ({ name, description })),
    paths,
    components: {
      ...given.components,
      schemas: usedSchemas([paths, PROBLEM_SCHEMA], given.components.schemas ?? {}),
      securitySchemes: {
        session: {
          type: 'apiKey',
          in: 'cookie',
          name: 'loamline-session',
          description:
            'The cookie of a browser that is signed in, over HTTPS `__Host-loamline-session`. Without an owner the hub ' +
            'asks for none.',
        },
        token: {
          type: 'http',
          scheme: 'bearer',
          description: 'A token made on the page /settings/people, with the scopes it was given.',
        },
      },
    },
  }
}
