import { EPOCH_MIN_S, MAX_CHANNELS_PER_MESSAGE, UINT32_MAX, VALUE_LIMIT } from './schemas.ts'
import type { ReadingBody } from './schemas.ts'
import { CHANNEL_NAME } from './topic.ts'

/*
 * Nearly everything a hub hears are readings without a fault. They are checked here by hand, at a tenth of
 * what the schema costs; whatever is unusual, right or wrong, is left to the schema, which alone says what is
 * wrong. A test holds that both see the same.
 */

/** Names that were found right; a garden has some dozens. */
const known = new Set<string>()
const MOST_KNOWN = 1000

function isChannel(name: string): boolean {
  if (known.has(name)) return true
  if (!CHANNEL_NAME.test(name)) return false
  if (known.size >= MOST_KNOWN) known.clear()
  known.add(name)
  return true
}

function isCount(value: unknown, max: number): boolean {
  return typeof value === 'number' && value >= 0 && value <= max && Math.floor(value) === value
}

function areValues(given: unknown): boolean {
  if (typeof given !== 'object' || given === null || Array.isArray(given)) return false
  const values = given as Readonly<Record<string, unknown>>
  let count = 0
  for (const name in values) {
    const value = values[name]
    if (++count > MAX_CHANNELS_PER_MESSAGE || !isChannel(name)) return false
    if (value === null) continue
    if (typeof value !== 'number' || !(value >= -VALUE_LIMIT && value <= VALUE_LIMIT)) return false
  }
  return count > 0
}

/** The body of a live reading, or null: the schema has to look at it. `json`: what JSON.parse made of it. */
export function quickReading(json: unknown): ReadingBody | null {
  if (typeof json !== 'object' || json === null || Array.isArray(json)) return null
  const given = json as Readonly<Record<string, unknown>>
  let members = 0
  for (const name in given) {
    members++
    const value = given[name]
    // A member called __proto__ is in none of these cases.
    switch (name) {
      case 'b':
        if (!isCount(value, UINT32_MAX - 1)) return null
        break
      case 'n':
      case 'u':
        if (!isCount(value, UINT32_MAX)) return null
        break
      case 'v':
        if (!areValues(value)) return null
        break
      case 't':
        if (!isCount(value, UINT32_MAX) || Number(value) < EPOCH_MIN_S) return null
        members--
        break
      case 'f':
        if (!isCount(value, 65_535)) return null
        members--
        break
      default:
        return null
    }
  }
  return members === 4 ? (json as ReadingBody) : null
}
