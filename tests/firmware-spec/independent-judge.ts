import { readFileSync } from 'node:fs'
import { Ajv2020 } from 'ajv/dist/2020.js'
import type { ValidateFunction } from 'ajv/dist/2020.js'

/*
 * A second opinion on a message, made from what firmware-spec publishes and nothing of the hub's own code:
 * the JSON Schema files, and the rules that README.md states in words.
 */

const LEAF_SCHEMA: Readonly<Record<string, string>> = {
  'up/r': 'reading',
  'up/b': 'batch',
  'up/state': 'state',
  'up/birth': 'birth',
  'up/ch': 'channel',
  'up/res': 'result',
  'dn/ack': 'ack',
  'dn/cfg': 'cfg',
  'dn/cmd': 'cmd',
  'dn/time': 'time',
}
const TOPIC =
  /^lm1\/(?!(?:hub|test|pair)\/)[a-z][a-z0-9]{2,22}\/(?:((?:up\/(?:r|b|state|birth|res))|dn\/(?:ack|cfg|cmd|time))|(up\/(?:ch|v))\/([a-z][a-z0-9]{0,7}))$/
const UNITS: Readonly<Record<string, string>> = {
  ph: 'pH',
  'ph.emf': 'mV',
  vwc: '/',
  'moist.raw': 'count Hz mV',
  'temp.soil': 'Cel',
  'temp.air': 'Cel',
  'rh.air': '%RH',
  ec: 'S/m mS/cm',
  tension: 'kPa hPa',
  bat: 'V %EL',
  rssi: 'dBm',
}

const ajv = new Ajv2020({ strict: true, strictTypes: false })
const validators = new Map<string, ValidateFunction>(
  Object.values(LEAF_SCHEMA).map((kind) => {
    const file = `firmware-spec/schemas/${kind}.schema.json`
    return [kind, ajv.compile(JSON.parse(readFileSync(file, 'utf8')) as object)]
  }),
)

/** Null when firmware may send it (or the hub, below dn/); else a word on what is wrong. */
export function judge(topic: string, payload: Uint8Array): string | null {
  const match = TOPIC.exec(topic)
  if (match === null) return 'topic'
  const [, leaf, channelLeaf, channel = ''] = match
  const path = leaf ?? channelLeaf ?? ''
  if (payload.length > 4096) return 'size'
  if (path.startsWith('up/') && topic.length + payload.length > 249) return 'size'
  let text: string
  try {
    text = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(payload)
  } catch {
    return 'UTF-8'
  }
  if (path === 'up/v') {
    const plain = text.trim()
    if (plain === 'null') return null
    return /^-?[0-9]+(\.[0-9]+)?([eE][-+]?[0-9]+)?$/.test(plain) && Math.abs(Number(plain)) <= 1e9
      ? null
      : 'plain number'
  }
  let body: unknown
  try {
    body = JSON.parse(text)
  } catch {
    return 'JSON'
  }
  const kind = LEAF_SCHEMA[path] ?? ''
  const validate = validators.get(kind)
  if (validate === undefined) throw new Error(`no schema for ${path}`)
  if (!validate(body)) return ajv.errorsText(validate.errors)
  return betweenMembers(kind, body as Readonly<Record<string, never>>, channel)
}

/** The rules a JSON Schema cannot state, as the README lists them. */
function betweenMembers(
  kind: string,
  body: Readonly<Record<string, unknown>>,
  channel: string,
): string | null {
  if (kind === 'state') {
    const { s, u, nx } = body
    if (s !== 'off' && u === undefined) return 'u missing'
    return s === 'sleep' && nx === undefined ? 'nx missing' : null
  }
  if (kind === 'channel') {
    const { q, u, lo, hi, from } = body
    if (q !== 'other' && !(UNITS[String(q)] ?? '').split(' ').includes(String(u))) return 'unit'
    if (lo !== undefined && hi !== undefined && Number(lo) >= Number(hi)) return 'lo and hi'
    return from === channel ? 'from' : null
  }
  if (kind === 'cmd') {
    return body['do'] === 'resend' && (body['b'] === undefined || body['n'] === undefined)
      ? 'resend'
      : null
  }
  if (kind !== 'batch') return null
  const { b, nb, u } = body
  const names = body['c'] as readonly string[]
  const rows = body['r'] as readonly (readonly (number | null)[])[]
  if (new Set(names).size < names.length) return 'channel twice'
  if (nb === b) return 'nb'
  let seq = -1
  let uptime = 0
  for (const row of rows) {
    if (row.length !== names.length + 2) return 'row length'
    for (const counter of row.slice(0, 2)) {
      if (counter === null || !Number.isInteger(counter) || counter < 0) return 'counter'
    }
    if (row.slice(2).some((value) => value !== null && Math.abs(value) > 1e9)) return 'value'
    const [n, at] = row as readonly [number, number]
    if (n <= seq) return 'order'
    if (at < uptime) return 'uptime falls'
    if (nb === undefined && at > Number(u)) return 'measured after sending'
    seq = n
    uptime = at
  }
  return null
}
