import type { Problem } from './schemas/common.ts'
import { said, say, toSay } from '../words/say.ts'

/** What the schema found wrong with one value of a request. */
export interface Finding {
  /** Where, as a JSON pointer without escapes, such as '/points/0/emfMv'. */
  readonly instancePath: string
  readonly keyword: string
  readonly message?: string
  readonly params: Readonly<Record<string, unknown>>
}

const KINDS: Readonly<Record<string, string>> = {
  string: toSay('text'),
  number: toSay('a number'),
  int: toSay('a whole number'),
  boolean: toSay('true or false'),
  array: toSay('a list'),
  tuple: toSay('a list'),
  object: toSay('an object'),
  record: toSay('an object'),
}
/** How the schema library's own sentences begin; every other sentence is ours and says what is expected. */
const NOT_OURS = /^(Invalid|Too (small|big)|Unrecognized)/
const LONGEST = 40
/** A list of a thousand wrong values is one mistake. */
const MOST_ROWS = 50
/** Members whose values no answer repeats: it may be logged or shown over a shoulder. */
const SECRET = /^(password|current|code|key|auth|p256dh|endpoint|secret)$/

/** As much of a value as a sentence shows: little of long and deep ones, and no secrets. */
function outline(value: unknown, depth = 0): unknown {
  if (typeof value === 'string') return value.slice(0, LONGEST)
  if (typeof value !== 'object' || value === null) return value
  if (depth > 3) return '…'
  if (Array.isArray(value)) return value.slice(0, LONGEST).map((one) => outline(one, depth + 1))
  return Object.fromEntries(
    Object.entries(value)
      .slice(0, LONGEST)
      .map(([name, one]) => [name, SECRET.test(name) ? '…' : outline(one, depth + 1)]),
  )
}

/** A value as it came, short enough for a sentence. */
export function shown(value: unknown): string {
  if (value === undefined) return say`nothing`
  const text = JSON.stringify(outline(value)) ?? typeof value
  return text.length <= LONGEST ? text : `${text.slice(0, LONGEST - 1)}…`
}

function limit(finding: Finding, key: 'minimum' | 'maximum'): string {
  const { origin, inclusive } = finding.params
  const edge = String(finding.params[key])
  const least = key === 'minimum'
  if (origin === 'string')
    return least ? say`at least ${edge} characters` : say`at most ${edge} characters`
  if (origin === 'array')
    return least ? say`at least ${edge} entries` : say`at most ${edge} entries`
  if (inclusive === false) return least ? say`a number above ${edge}` : say`a number below ${edge}`
  return least ? say`a number of at least ${edge}` : say`a number of at most ${edge}`
}

function expected(finding: Finding): string {
  const { params, message = toSay('something else') } = finding
  if (!NOT_OURS.test(message)) return said(message)
  switch (finding.keyword) {
    case 'invalid_type':
      return say`expected ${said(KINDS[String(params['expected'])] ?? String(params['expected']))}`
    case 'too_small':
      return say`expected ${limit(finding, 'minimum')}`
    case 'too_big':
      return say`expected ${limit(finding, 'maximum')}`
    case 'invalid_union':
      return Array.isArray(params['options'])
        ? say`expected ${params['options'].map(shown).join(` ${say`or`} `)}`
        : say`expected what the API document says`
    case 'invalid_value':
      return say`expected ${(params['values'] as unknown[]).map(shown).join(` ${say`or`} `)}`
    default:
      return say`expected what the API document says`
  }
}

function valueAt(root: unknown, path: readonly string[]): unknown {
  return path.reduce<unknown>(
    (value, key) =>
      typeof value === 'object' && value !== null && Object.hasOwn(value, key)
        ? (value as Record<string, unknown>)[key]
        : undefined,
    root,
  )
}

/**
 * One row for each value that could not be used: where, what was expected, what came.
 *
 * @param came the part of the request that was looked at, before it was
 */
export function explain(
  findings: readonly Finding[],
  came: unknown,
): NonNullable<Problem['errors']> {
  const byPath = new Map<string, Finding>()
  for (const finding of findings) {
    // Of a value of the wrong kind nothing else is worth saying; of limits the last is the narrowest.
    if (byPath.get(finding.instancePath)?.keyword === 'invalid_type') continue
    byPath.set(finding.instancePath, finding)
  }
  return [...byPath.values()].slice(0, MOST_ROWS).map((finding) => {
    const path = finding.instancePath.split('/').filter((part) => part !== '')
    const value = valueAt(came, path)
    const secret = value !== undefined && SECRET.test(path.at(-1) ?? '')
    return {
      path: path.length === 0 ? 'body' : path.join('.'),
      message: say`${expected(finding)}, got ${secret ? say`something else` : shown(value)}`,
    }
  })
}
