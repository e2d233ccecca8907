import { createServer, type IncomingMessage } from 'node:http'
import type { AddressInfo } from 'node:net'
import { gunzipSync } from 'node:zlib'
import { afterEach, expect, test } from 'vitest'
import { openInfluxClient, type InfluxTarget } from '#hub/store/influx/influx-client.ts'

/*
 * Requests as they leave, and answers as the generations of InfluxDB give them. 1.6 is held for real in
 * tests/contract; 2.x and 3.x do not run here, so that their answers are those of their documentation:
 *
 * - InfluxData, InfluxDB OSS v2, "InfluxDB 1.x compatibility API" (/write answers 204, errors { code, message },
 *   `Authorization: Token`; database and retention policy are mapped to a bucket)
 * - InfluxData, InfluxDB 3 Core, "Use compatibility APIs to write data" and "Use the v1 HTTP query API and InfluxQL"
 *   (/write answers 204, 400 with { error, data: [{ original_line, line_number, error_message }] })
 */

interface Asked {
  readonly method: string
  readonly path: string
  readonly query: Record<string, string>
  readonly headers: IncomingMessage['headers']
  readonly body: string
}
type Answer = readonly [status: number, body: string]

const closing: (() => Promise<void>)[] = []
afterEach(async () => {
  for (const close of closing.splice(0)) await close()
})

/** A server that answers what it is told, notes what it was asked, and its client. */
async function scene(
  answers: readonly (Answer | 'hang up' | 'silence')[],
  target: Partial<InfluxTarget> = {},
) {
  const asked: Asked[] = []
  const left = [...answers]
  const server = createServer((request, response) => {
    const chunks: Buffer[] = []
    request.on('data', (chunk: Buffer) => chunks.push(chunk))
    request.on('end', () => {
      const { pathname, searchParams } = new URL(request.url ?? '', 'http://here')
      const raw = Buffer.concat(chunks)
      const packed = request.headers['content-encoding'] === 'gzip'
      asked.push({
        method: request.method ?? '',
        path: pathname,
        query: Object.fromEntries(searchParams),
        headers: request.headers,
        body: (packed ? gunzipSync(raw) : raw).toString(),
      })
      const answer = left.shift()
      if (answer === undefined) throw new Error('asked once more than was thought')
      if (answer === 'hang up') request.socket.destroy()
      else if (answer !== 'silence') response.writeHead(answer[0]).end(answer[1])
    })
  })
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  const { port } = server.address() as AddressInfo
  const client = openInfluxClient(
    {
      url: `http://127.0.0.1:${port}`,
      database: 'garden',
      retention: null,
      auth: { kind: 'none' },
      ...target,
    },
    // A machine that is busy is no silence.
    answers.includes('silence') ? { timeoutMs: 300 } : {},
  )
  closing.push(async () => {
    await client.close()
    server.closeAllConnections()
    await new Promise((resolve) => server.close(resolve))
  })
  return { client, asked }
}
const rows = (columns: string[], values: unknown[][]): Answer => [
  200,
  JSON.stringify({
    results: [{ statement_id: 0, series: [{ name: 'reading', columns, values }] }],
  }),
]

test('lines go to /write with database, precision and retention policy', async () => {
  const { client, asked } = await scene(
    [
      [204, ''],
      [204, ''],
    ],
    { retention: 'for-ever' },
  )
  expect(await client.write(['a v=1 1', 'a v=2 2'])).toEqual({ refused: null, partly: true })
  await client.write('a v=3 3', { precision: 'ns' })
  expect(asked[0]).toMatchObject({
    method: 'POST',
    path: '/write',
    query: { db: 'garden', rp: 'for-ever', precision: 'ms' },
    body: 'a v=1 1\na v=2 2',
  })
  expect(asked[1]!.query).toEqual({ db: 'garden', rp: 'for-ever', precision: 'ns' })
})

test('many lines go packed', async () => {
  const { client, asked } = await scene([[204, '']])
  const lines = Array.from({ length: 2000 }, (_, i) => `a v=${i} ${i}`)
  await client.write(lines)
  expect(asked[0]!.headers['content-encoding']).toBe('gzip')
  expect(asked[0]!.body).toBe(lines.join('\n'))
})

test('nothing to write asks nothing', async () => {
  const { client, asked } = await scene([])
  expect(await client.write([])).toEqual({ refused: null, partly: true })
  expect(asked).toEqual([])
})

test.for([
  ['none', { kind: 'none' }, undefined],
  ['a token', { kind: 'token', token: 'abc==' }, 'Token abc=='],
  ['a password', { kind: 'basic', user: 'hüb', password: 'a:b' }, 'Basic aMO8YjphOmI='],
] as const)(
  'who asks, with %s, stands in the header and never in the address',
  async ([, auth, header]) => {
    const { client, asked } = await scene([[204, ''], rows(['time', 'v'], [])], { auth })
    await client.write('a v=1 1')
    await client.query('SELECT "v" FROM "a"')
    for (const { headers, query } of asked) {
      expect(headers.authorization).toBe(header)
      expect(Object.keys(query).sort()).not.toContain('p')
    }
  },
)

test('a statement and its parameters go in the body', async () => {
  const { client, asked } = await scene([
    rows(
      ['time', 'v'],
      [
        [5, 1.5],
        [6, null],
      ],
    ),
  ])
  expect(
    await client.query('SELECT "v" FROM "a" WHERE "probe" = $probe', { probe: "o'row" }),
  ).toEqual([
    { time: 5, v: 1.5 },
    { time: 6, v: null },
  ])
  expect(asked[0]).toMatchObject({
    method: 'POST',
    path: '/query',
    query: { db: 'garden', epoch: 'ms' },
  })
  const form = new URLSearchParams(asked[0]!.body)
  expect(form.get('q')).toBe('SELECT "v" FROM "a" WHERE "probe" = $probe')
  expect(JSON.parse(form.get('params')!)).toEqual({ probe: "o'row" })
})

test('rows carry the tags they were grouped by', async () => {
  const series = [{ name: 'a', tags: { probe: 'row1' }, columns: ['time', 'v'], values: [[1, 2]] }]
  const { client } = await scene([[200, JSON.stringify({ results: [{ series }] })]])
  expect(await client.query('SELECT "v" FROM "a" GROUP BY "probe"')).toEqual([
    { probe: 'row1', time: 1, v: 2 },
  ])
})

test.for([
  [
    'in a result, though the status is 200',
    [200, '{"results":[{"statement_id":0,"error":"database not found: garden"}]}'],
  ],
  ['in the body, though the status is 200', [200, '{"error":"timeout"}']],
  ['as text', [500, 'out of sorts']],
  ['as of 2.x', [404, '{"code":"not found","message":"bucket \\"garden\\" not found"}']],
  ['as of 3.x', [500, '{"error":"query file limit exceeded"}']],
  ['by an answer that is no JSON', [200, '<html>somebody else</html>']],
  [
    'by rows that are kept back',
    [200, '{"results":[{"series":[{"columns":["time"],"values":[[1]],"partial":true}]}]}'],
  ],
] as const)('an error of a query is found %s', async ([, answer]) => {
  const { client } = await scene([answer])
  await expect(client.query('SELECT "v" FROM "a"')).rejects.toMatchObject({
    code: 'HUB_STORE_UNAVAILABLE',
  })
})

test.for([
  [
    '1.x, some lines',
    [
      400,
      '{"error":"partial write: field type conflict: input field \\"v\\" on measurement \\"a\\" is type integer, already exists as type float dropped=1"}',
    ],
    true,
  ],
  [
    '1.x, a line that is none',
    [400, `{"error":"unable to parse 'rubbish': missing fields"}`],
    false,
  ],
  [
    '1.x, all beyond its retention',
    [400, '{"error":"partial write: points beyond retention policy dropped=2"}'],
    true,
  ],
  [
    '2.x',
    [
      422,
      '{"code":"unprocessable entity","message":"failure writing points to database: partial write: field type conflict dropped=1"}',
    ],
    true,
  ],
  [
    '3.x',
    [
      400,
      '{"error":"partial write of line protocol occurred","data":[{"original_line":"a v=x","line_number":1,"error_message":"invalid"}]}',
    ],
    true,
  ],
  ['too large at once', [413, '{"error":"Request Entity Too Large"}'], false],
] as const)(
  'lines that are not taken are told, not tried for ever: %s',
  async ([, answer, partly]) => {
    const { client } = await scene([answer])
    const said = await client.write(['a v=1 1', 'a v=2 2'])
    expect(said.refused).not.toBeNull()
    expect(said.partly).toBe(partly)
  },
)

test.for([
  [401, 'unauthorized access'],
  [403, 'write permission needed'],
  [404, 'database not found'],
  [429, 'too many'],
  [500, 'engine failed'],
  [503, 'no leader'],
] as const)('a write answered with %i is to be sent again', async ([status, error]) => {
  const { client } = await scene([[status, JSON.stringify({ error })]])
  const failed = client.write('a v=1 1')
  await expect(failed).rejects.toMatchObject({ code: 'HUB_STORE_UNAVAILABLE', retry: true })
  await expect(failed).rejects.toThrow(error)
})

test('who is not let in hears which settings to look at, and no secret', async () => {
  const { client } = await scene([[401, '{"error":"authorization failed"}']], {
    auth: { kind: 'token', token: 'once-upon-9' },
  })
  const failed = client.query('SHOW DATABASES')
  await expect(failed).rejects.toThrow('LOAMLINE_INFLUX_TOKEN')
  await expect(failed).rejects.not.toThrow('once-upon-9')
})

test('a connection that has gone stale is tried once more; two in a row are an outage', async () => {
  const { client, asked } = await scene(['hang up', [204, ''], 'hang up', 'hang up'])
  await client.write('a v=1 1')
  expect(asked).toHaveLength(2)
  await expect(client.write('a v=1 1')).rejects.toMatchObject({ retry: true })
  expect(asked).toHaveLength(4)
})

test('a server that says nothing is given up', async () => {
  const { client } = await scene(['silence'])
  await expect(client.write('a v=1 1')).rejects.toThrow('none came')
})

test('nothing is carried to where a redirect leads', async () => {
  const { client, asked } = await scene([
    [307, ''],
    [307, ''],
  ])
  await expect(client.write('a v=1 1')).rejects.toMatchObject({ code: 'HUB_STORE_UNAVAILABLE' })
  expect(asked.every(({ path }) => path === '/write')).toBe(true)
})

const NOT_THERE: Answer = [
  200,
  '{"results":[{"statement_id":0,"error":"database not found: garden"}]}',
]

test('a database that is not there is made; one that is there is left alone', async () => {
  const { client, asked } = await scene([
    NOT_THERE,
    [200, '{"results":[{"statement_id":0}]}'],
    rows([], []),
  ])
  await client.ready()
  const statements = asked.map(({ body }) => new URLSearchParams(body).get('q'))
  expect(statements.at(-1)).toBe('CREATE DATABASE "garden"')
  await client.ready()
  expect(asked).toHaveLength(3)
})

test('where it cannot be made (2.x) it says what to make', async () => {
  const { client } = await scene([
    [404, '{"code":"not found","message":"no dbrp mapping found"}'],
    [400, '{"code":"invalid","message":"CREATE DATABASE is not supported"}'],
  ])
  const failed = client.ready()
  await expect(failed).rejects.toThrow(`no database 'garden'`)
  await expect(failed).rejects.toThrow('in 2.x a bucket of that name')
})

test('a client that was closed answers nothing more', async () => {
  const { client } = await scene(['silence'])
  const under = client.write('a v=1 1')
  await client.close()
  await expect(under).rejects.toMatchObject({ code: 'HUB_STORE_UNAVAILABLE', retry: false })
})
