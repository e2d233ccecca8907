import type { z } from 'zod'
import { clipped, shown } from './problem.ts'
import type { Problem } from './problem.ts'
import { clauseOf, expectationOf } from './schemas.ts'
import type { Kind } from './schemas.ts'

type Issue = z.core.$ZodIssue

/** Turns what the schema found into a sentence: which member, what was expected, what came. */
export function explain(kind: Kind, issue: Issue, json: unknown): Problem {
  const [member] = issue.path
  const clause = clauseOf(kind, member)
  if (issue.code === 'unrecognized_keys') {
    const path = [...issue.path, issue.keys[0] ?? ''].map(String).join('.')
    const names = issue.keys.map((key) => JSON.stringify(clipped(key, 24))).join(', ')
    return { path, clause, message: `${path}: the format knows no member ${names} here` }
  }
  if (member === undefined) {
    const message = `payload: expected one JSON object {...}, got ${shown(json)}`
    return { path: 'payload', clause, message }
  }
  const path = issue.path.map(String).join('.')
  if (issue.code === 'invalid_key') {
    const message =
      `${path}: expected a channel name: 1 to 8 lower-case letters and digits, a letter first, ` +
      `got ${shown(String(issue.path.at(-1)))}`
    return { path, clause: 'LM-08', message }
  }
  const came = issue.path.reduce<unknown>(memberOf, json)
  const expected =
    issue.path.length > 1 && (member === 'v' || (member === 'r' && issue.path.length > 2))
      ? 'a number from -1e9 to 1e9, or null for a failed sensor'
      : (expectationOf(kind, member) ?? 'what the schema says')
  return {
    path,
    clause,
    message: `${path}: expected ${expected}, got ${shown(came)}${hint(member, came)}`,
  }
}

function memberOf(value: unknown, key: PropertyKey): unknown {
  if (typeof value !== 'object' || value === null || !Object.hasOwn(value, key)) return undefined
  return (value as Record<PropertyKey, unknown>)[key]
}

/** The usual cause, where one stands out. */
function hint(member: PropertyKey, came: unknown): string {
  if (typeof came === 'string' && came.trim() !== '' && Number.isFinite(Number(came)))
    return ' (send a number without quotes)'
  if (member === 't' && typeof came === 'number') {
    if (came > 1e11) return ' (that looks like milliseconds)'
    if (came >= 0 && came < 1e9) return ' (that looks like seconds since boot: an unset clock)'
  }
  return ''
}

/** Why a text is no JSON, guessed from the usual slips of C firmware. */
export function whyNotJson(text: string): string {
  const start = 'payload: expected JSON, '
  const end = `, got ${shown(text)}`
  if (text.length === 0) return `${start}got nothing`
  if (text.includes('\0'))
    return `${start}got text with a NUL byte in it (send strlen bytes, not sizeof)`
  if (text.startsWith('\uFEFF')) return `${start}got text that begins with a byte-order mark`
  if (/[:[,]\s*[-+]?(nan|inf)/i.test(text))
    return `${start}which has no NaN or infinity (send null for a failed sensor)${end}`
  if (/[:[,]\s*\?/.test(text))
    return `${start}a number stands as "?" (printf without floating point)${end}`
  if (/:\s*-?\d+,\d/.test(text)) return `${start}with a decimal point, not a comma${end}`
  if (/,\s*[}\]]/.test(text)) return `${start}there is a comma before a closing bracket${end}`
  if (/^\s*[{[]/.test(text) && !/[}\]]\s*$/.test(text))
    return `${start}the text stops in the middle, after ${text.length} characters (buffer too small?)${end}`
  return `${start.slice(0, -2)}${end}`
}
