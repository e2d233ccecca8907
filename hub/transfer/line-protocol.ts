import { say } from '../words/say.ts'
/** A number as it stands in a field: `1.5` is a float, `15i` a signed and `15u` an unsigned 64-bit integer. */
export type FieldValue =
  | { readonly kind: 'float'; readonly value: number }
  | { readonly kind: 'integer' | 'unsigned'; readonly value: bigint }
  | { readonly kind: 'boolean'; readonly value: boolean }
  | { readonly kind: 'string'; readonly value: string }

/** One line of InfluxDB line protocol. */
export interface Line {
  readonly measurement: string
  /** In the order they stand. */
  readonly tags: readonly (readonly [key: string, value: string])[]
  readonly fields: readonly (readonly [key: string, value: FieldValue])[]
  /** As written, in the file's precision; null where there is none. */
  readonly timestamp: bigint | null
}

/** What is wrong with a line: what was expected and what came. */
export interface LineProblem {
  readonly expected: string
  readonly got: string
}

const LEAST_SIGNED = -(2n ** 63n)
const MOST_SIGNED = 2n ** 63n - 1n
const MOST_UNSIGNED = 2n ** 64n - 1n
const TRUE = new Set(['t', 'T', 'true', 'True', 'TRUE'])
const FALSE = new Set(['f', 'F', 'false', 'False', 'FALSE'])

/**
 * Writes one line, without its end. A backslash stands before a comma or a space in a measurement, and before a
 * comma, an equals sign or a space in a key or a tag; before a quote or a backslash in text. Tags are sorted by key.
 *
 * Rules: InfluxData, "Line protocol reference" (InfluxDB OSS v2), sections "Special characters" and "Data types and
 * format".
 *
 * @throws TypeError when there is nothing to write or a name could not be read back: no field, an empty name, a line
 * end in a name, one that ends with a backslash, a measurement that begins like a comment, a number that is not finite
 */
export function formatLine(line: Line): string {
  if (line.fields.length === 0) throw new TypeError('a line needs a field')
  const measurement = escaped(line.measurement, /[, ]/g)
  if (measurement.startsWith('#')) throw new TypeError('a line that begins with # is a comment')
  const name = (text: string): string => escaped(text, /[,= ]/g)
  const tags = line.tags
    .toSorted(([a], [b]) => (a < b ? -1 : 1))
    .map(([key, value]) => `,${name(key)}=${name(value)}`)
    .join('')
  const fields = line.fields.map(([key, value]) => `${name(key)}=${formatValue(value)}`).join(',')
  const time = line.timestamp === null ? '' : ` ${line.timestamp}`
  return `${measurement}${tags} ${fields}${time}`
}

function escaped(text: string, special: RegExp): string {
  if (text === '') throw new TypeError('an empty name cannot be written')
  if (/[\r\n]/.test(text) || text.endsWith('\\')) {
    throw new TypeError(`${JSON.stringify(text)} cannot be written as a name`)
  }
  // A backslash of its own right before a special character would be read as part of the escape.
  if (/\\[,= "]/.test(text)) throw new TypeError(`${JSON.stringify(text)} cannot be written`)
  return text.replace(special, '\\$&')
}

function formatValue(field: FieldValue): string {
  switch (field.kind) {
    case 'float':
      if (!Number.isFinite(field.value)) throw new TypeError(`${field.value} cannot be written`)
      return Object.is(field.value, -0) ? '-0' : String(field.value)
    case 'integer':
      return `${field.value}i`
    case 'unsigned':
      return `${field.value}u`
    case 'boolean':
      return field.value ? 'true' : 'false'
    case 'string':
      return `"${field.value.replace(/["\\]/g, '\\$&')}"`
  }
}

/** Reads one line; null for an empty one or a comment. */
export function parseLine(text: string): Line | LineProblem | null {
  const trimmed = text.replace(/\r$/, '')
  if (trimmed.trim() === '' || trimmed.trimStart().startsWith('#')) return null
  const wrong = (expected: string, got: string): LineProblem => ({ expected, got: clip(got) })
  const whole = trimmed.trim()
  const [head = ''] = splitOutside(whole, ' ')
  const parts = splitOutside(whole.slice(head.length), ' ', true)
  const [body, time, ...rest] = parts.filter((part) => part !== '')
  if (body === undefined) return wrong(say`measurement, fields and a time`, trimmed)
  if (rest.length > 0) return wrong(say`nothing after the time`, rest.join(' '))

  const [measurement = '', ...tagTexts] = splitOutside(head, ',')
  if (measurement === '') return wrong(say`a measurement first`, trimmed)
  const tags: (readonly [string, string])[] = []
  for (const tag of tagTexts) {
    const [key = '', value = '', ...more] = splitOutside(tag, '=')
    if (key === '' || value === '' || more.length > 0)
      return wrong(say`a tag such as probe=fern1`, tag)
    tags.push([unescaped(key), unescaped(value)])
  }
  const fields: (readonly [string, FieldValue])[] = []
  for (const field of splitOutside(body, ',', true)) {
    const [key = '', ...values] = splitOutside(field, '=', true)
    const raw = values.join('=')
    if (key === '' || raw === '') return wrong(say`a field such as phmv=12.5`, field)
    const value = parseValue(raw)
    if (value === null) return wrong(say`a number, true, false or text in quotes`, raw)
    fields.push([unescaped(key), value])
  }
  if (time !== undefined && !/^-?\d{1,19}$/.test(time))
    return wrong(say`a whole number as time`, time)
  const timestamp = time === undefined ? null : BigInt(time)
  return { measurement: unescaped(measurement), tags, fields, timestamp }
}

/** Cuts at every separator that is not escaped; with `quotes`, nor within a text in quotes, which begins after a '='. */
function splitOutside(text: string, separator: string, quotes = false): string[] {
  const parts: string[] = []
  let start = 0
  let quoted = false
  let afterEquals = false
  for (let i = 0; i < text.length; i++) {
    const c = text[i]
    const opens = afterEquals
    afterEquals = false
    if (c === '\\') i++
    else if (quotes && c === '"' && (quoted || opens)) quoted = !quoted
    else if (c === separator && !quoted) {
      parts.push(text.slice(start, i))
      start = i + 1
      afterEquals = c === '='
    } else afterEquals = c === '=' && !quoted
  }
  parts.push(text.slice(start))
  return parts
}

/** A backslash before anything else is a backslash. */
const unescaped = (text: string): string => text.replace(/\\([,= ])/g, '$1')

function parseValue(raw: string): FieldValue | null {
  if (raw.startsWith('"')) {
    if (!/^"(?:[^"\\]|\\.)*"$/s.test(raw)) return null
    return { kind: 'string', value: raw.slice(1, -1).replace(/\\(["\\])/g, '$1') }
  }
  if (TRUE.has(raw)) return { kind: 'boolean', value: true }
  if (FALSE.has(raw)) return { kind: 'boolean', value: false }
  const whole = /^([+-]?\d{1,20})([iu])$/.exec(raw)
  if (whole !== null) {
    const value = BigInt(whole[1]!.replace(/^\+/, ''))
    if (whole[2] === 'u') {
      return value >= 0n && value <= MOST_UNSIGNED ? { kind: 'unsigned', value } : null
    }
    return value >= LEAST_SIGNED && value <= MOST_SIGNED ? { kind: 'integer', value } : null
  }
  if (!/^[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?$/.test(raw)) return null
  const value = Number(raw)
  return Number.isFinite(value) ? { kind: 'float', value } : null
}

const clip = (text: string): string => (text.length > 60 ? `${text.slice(0, 59)}…` : text)
