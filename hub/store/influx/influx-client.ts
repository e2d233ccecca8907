import { promisify } from 'node:util'
import { gzip } from 'node:zlib'
import { HubError } from '../../errors.ts'
import { quoteName } from './names.ts'

/** Where an InfluxDB is, and as whom the hub goes there. */
export interface InfluxTarget {
  /** `http://` or `https://`, without user and password. */
  readonly url: string
  /** Database of 1.x and 3.x; the bucket (or what it is mapped to) in 2.x. */
  readonly database: string
  /** Retention policy; null: the database's own. */
  readonly retention: string | null
  readonly auth: InfluxAuth
}
export type InfluxAuth =
  | { readonly kind: 'none' }
  | { readonly kind: 'token'; readonly token: string }
  | { readonly kind: 'basic'; readonly user: string; readonly password: string }

/** One row of an answer, by column name, with the tags it was grouped by. */
export type InfluxRow = Readonly<Record<string, unknown>>
/** The rows of one series of an answer, as they came. */
export interface InfluxSeries {
  readonly name: string
  readonly tags: Readonly<Record<string, string>>
  readonly columns: readonly string[]
  readonly values: readonly (readonly unknown[])[]
  /** There are more rows, which the server keeps back (its max-row-limit). */
  readonly partial: boolean
}
export type Precision = 'ms' | 'ns'

export interface Written {
  /** What the server said of lines it did not keep; null when it kept them all. */
  readonly refused: string | null
  /**
   * Whether the lines it did not complain of are kept: then sending them again changes nothing. False: the
   * server took none of them.
   */
  readonly partly: boolean
}

/**
 * InfluxDB by the API that its generations share: `/write` with line protocol and `/query` with InfluxQL.
 *
 * A plain `fetch` below it, because everything that was hard is in the answers: a body is read before anything
 * is believed, for 1.x says 200 before a statement has run and puts its errors into the body.
 */
export interface InfluxClient {
  /**
   * Lines of line protocol. Resolves when kept; a partial write resolves too, with what the server said of the
   * rest. The same lines again change nothing.
   * @throws HubError HUB_STORE_UNAVAILABLE: nothing is known to be kept; send it again
   */
  write(
    lines: readonly string[] | string,
    options?: {
      /** What the times in the lines count. @default 'ms' */
      readonly precision?: Precision
    },
  ): Promise<Written>
  /**
   * One InfluxQL statement; `$name` in it stands for a parameter.
   * @throws HubError HUB_STORE_UNAVAILABLE when there is no answer, or the answer is an error
   */
  query(
    statement: string,
    params?: Readonly<Record<string, unknown>>,
    options?: QueryOptions,
  ): Promise<readonly InfluxRow[]>
  /** The same, without making an object of every row; series that were cut off are for the caller to go on with. */
  querySeries(
    statement: string,
    params?: Readonly<Record<string, unknown>>,
    options?: QueryOptions,
  ): Promise<readonly InfluxSeries[]>
  /** Makes the database where the server lets the hub (1.x), and says what is missing otherwise. */
  ready(): Promise<void>
  close(): Promise<void>
}
export interface QueryOptions {
  /** What `time` in the answer counts. @default 'ms' */
  readonly epoch?: Precision
}

/** Longest wait for an answer, ms: a server that froze is given up and tried again. */
const TIMEOUT_MS = 10_000
/** Smaller bodies are not worth packing. */
const GZIP_FROM = 8192
const pack = promisify(gzip)

/** What a refused write says when it is the lines that are at fault: 400 in 1.x and 3.x, 422 in 2.x. */
const ABOUT_LINES =
  /partial write|unable to parse|invalid line protocol|field type conflict|beyond retention|time outside range|parsing failed|unprocessable/i

/** What a server says of a database, a bucket or their mapping that it does not know. */
const NOT_THERE = /not found|no .*mapping|does not exist/i

interface Answer {
  readonly status: number
  readonly text: string
}

const authorization = (auth: InfluxAuth): Record<string, string> => {
  switch (auth.kind) {
    case 'none':
      return {}
    case 'token':
      return { authorization: `Token ${auth.token}` }
    case 'basic': {
      const pair = Buffer.from(`${auth.user}:${auth.password}`).toString('base64')
      return { authorization: `Basic ${pair}` }
    }
  }
}

/** The sentence in an answer that went wrong, whichever generation wrote it. */
function reasonOf({ status, text }: Answer): string {
  try {
    const body = JSON.parse(text) as Record<string, unknown>
    for (const key of ['error', 'message', 'err']) {
      const said = body[key]
      if (typeof said === 'string' && said !== '') return withData(said, body['data'])
    }
  } catch {
    // Not JSON: what is there is shown.
  }
  const plain = text.trim().slice(0, 300)
  return plain === '' ? `it answered ${status} without a reason` : plain
}
/** 3.x lists the lines at fault beside its sentence. */
function withData(said: string, data: unknown): string {
  return data === undefined ? said : `${said} ${JSON.stringify(data).slice(0, 300)}`
}

export function openInfluxClient(
  target: InfluxTarget,
  options: {
    /** Longest wait for an answer, ms. @default 10000 */
    readonly timeoutMs?: number | undefined
  } = {},
): InfluxClient {
  const base = target.url.replace(/\/+$/, '')
  const timeoutMs = options.timeoutMs ?? TIMEOUT_MS
  const closed = new AbortController()
  const auth = authorization(target.auth)
  const away = (why: string, retry: boolean, cause?: unknown): HubError =>
    new HubError('HUB_STORE_UNAVAILABLE', `InfluxDB at ${base}: ${why}`, { retry, cause })

  const once = async (
    path: string,
    query: Readonly<Record<string, string>>,
    init: {
      readonly headers: Record<string, string>
      readonly body: string | Uint8Array<ArrayBuffer>
    },
  ): Promise<Answer> => {
    const signal = AbortSignal.any([AbortSignal.timeout(timeoutMs), closed.signal])
    const response = await fetch(`${base}${path}?${new URLSearchParams(query).toString()}`, {
      method: 'POST',
      headers: { ...auth, ...init.headers },
      body: init.body,
      // A redirect would take the password along to wherever it leads.
      redirect: 'error',
      signal,
    })
    return { status: response.status, text: await response.text() }
  }
  /** What is sent may be sent twice, so a kept connection that has gone stale is no failure yet. */
  const ask = async (...request: Parameters<typeof once>): Promise<Answer> => {
    for (let tries = 1; ; tries++) {
      try {
        return await once(...request)
      } catch (error) {
        if (closed.signal.aborted) throw away('the connection was closed.', false)
        const { name } = error as Error
        if (name === 'TimeoutError') {
          throw away(`expected an answer within ${timeoutMs / 1000} s, none came.`, true, error)
        }
        const code = codeOf(error)
        if (tries === 1 && code !== 'ECONNREFUSED' && code !== 'ENOTFOUND') continue
        throw away(`it cannot be reached (${code ?? (error as Error).message}).`, true, error)
      }
    }
  }
  const refuse = (answer: Answer): never => {
    const { status } = answer
    if (status === 401 || status === 403) {
      throw away(
        `it does not let the hub in (${reasonOf(answer)}). Check LOAMLINE_INFLUX_TOKEN, or ` +
          'LOAMLINE_INFLUX_USER and LOAMLINE_INFLUX_PASSWORD, and what they may do there.',
        true,
      )
    }
    throw away(`${reasonOf(answer)} (${status}).`, true)
  }

  const retention = target.retention === null ? {} : { rp: target.retention }
  const querySeries: InfluxClient['querySeries'] = async (statement, params, how = {}) => {
    const form = new URLSearchParams({ q: statement })
    if (params !== undefined) form.set('params', JSON.stringify(params))
    const answer = await ask(
      '/query',
      { db: target.database, ...retention, epoch: how.epoch ?? 'ms' },
      {
        headers: { 'content-type': 'application/x-www-form-urlencoded' },
        body: form.toString(),
      },
    )
    if (answer.status !== 200) refuse(answer)
    return seriesOf(answer, away)
  }
  const query: InfluxClient['query'] = async (statement, params, how) =>
    (await querySeries(statement, params, how)).flatMap(({ tags, columns, values, partial }) => {
      if (partial) {
        throw away('it answered with a part of the rows only (its max-row-limit).', false)
      }
      return values.map((row) => ({
        ...tags,
        ...Object.fromEntries(columns.map((column, i) => [column, row[i]])),
      }))
    })

  return {
    async write(lines, how = {}) {
      const text = typeof lines === 'string' ? lines : lines.join('\n')
      if (text === '') return { refused: null, partly: true }
      const plain = Buffer.from(text)
      const packed = plain.length >= GZIP_FROM
      const answer = await ask(
        '/write',
        { db: target.database, ...retention, precision: how.precision ?? 'ms' },
        {
          headers: {
            'content-type': 'text/plain; charset=utf-8',
            ...(packed ? { 'content-encoding': 'gzip' } : {}),
          },
          body: packed ? await pack(plain, { level: 1 }) : plain,
        },
      )
      if (answer.status === 204 || answer.status === 200) {
        // 200 with an error in its body is not kept.
        if (answer.text.includes('"error"')) refuse(answer)
        return { refused: null, partly: true }
      }
      const reason = reasonOf(answer)
      if ((answer.status === 400 || answer.status === 422) && ABOUT_LINES.test(answer.text)) {
        return { refused: reason, partly: /partial write/i.test(answer.text) }
      }
      // Larger than this server takes at once: no fault of a line.
      if (answer.status === 413) return { refused: reason, partly: false }
      return refuse(answer)
    },
    query,
    querySeries,
    async ready() {
      let why: unknown
      try {
        await query('SHOW FIELD KEYS LIMIT 1')
        return
      } catch (error) {
        if (!(error instanceof HubError) || !NOT_THERE.test(error.message)) throw error
        why = error
      }
      try {
        await query(`CREATE DATABASE ${quoteName(target.database)}`)
      } catch (error) {
        if (!(error instanceof HubError)) throw error
        throw away(
          `there is no database '${target.database}', and it cannot be made from here ` +
            `(${error.message}). Make it there: in 2.x a bucket of that name, in 1.x a database that the ` +
            "hub's user may read and write.",
          true,
          why,
        )
      }
    },
    async close() {
      closed.abort()
    },
  }
}

/** The code of what lies at the bottom of a failed fetch. */
function codeOf(error: unknown): string | undefined {
  for (let at: unknown = error; at instanceof Error; at = at.cause) {
    const { code } = at as { code?: unknown }
    if (typeof code === 'string') return code
  }
  return undefined
}

function seriesOf(
  answer: Answer,
  away: (why: string, retry: boolean, cause?: unknown) => HubError,
): InfluxSeries[] {
  let body: {
    error?: string
    results?: readonly {
      error?: string
      series?: readonly Partial<InfluxSeries>[]
    }[]
  }
  try {
    body = JSON.parse(answer.text) as typeof body
  } catch (error) {
    throw away(`expected JSON, got ${answer.text.slice(0, 100)}.`, true, error)
  }
  const wrong = body.error ?? body.results?.find((result) => result.error !== undefined)?.error
  if (wrong !== undefined) throw away(`${wrong}.`, true)
  const series = (body.results ?? []).flatMap((result) => result.series ?? [])
  return series.map(({ name = '', tags = {}, columns = [], values = [], partial = false }) => ({
    name,
    tags,
    columns,
    values,
    partial,
  }))
}
