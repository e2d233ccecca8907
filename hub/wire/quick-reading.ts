import { EPOCH_MIN_S, MAX_CHANNELS_PER_MESSAGE, UINT32_MAX, VALUE_LIMIT } from './schemas.ts'
import type { ReadingBody } from './schemas.ts'
import { CHANNEL_NAME } from './topic.ts'

/*
 * Nearly everything a hub hears are readings without a fault. They are read here straight from their bytes, at a
 * small part of what JSON and schema cost; whatever is unusual, right or wrong, is left to those, which alone say what
 * is wrong. A test holds that both see the same.
 *
 * JSON: RFC 8259. Everything here is ASCII; a byte of another kind is none that is looked for.
 */

const QUOTE = 0x22
const COMMA = 0x2c
const MINUS = 0x2d
const POINT = 0x2e
const ZERO = 0x30
const COLON = 0x3a
const OPEN = 0x7b
const CLOSE = 0x7d
const LOWER_N = 0x6e

/** Members of one letter, and as which bit they are remembered. */
const B = 0x62
const F = 0x66
const N = 0x6e
const T = 0x74
const U = 0x75
const V = 0x76
/** All that a reading must have. */
const NEEDED = 0b1111

/** So many digits are a whole number that a double holds exactly. */
const EXACT_DIGITS = 15
const POWERS = Float64Array.from({ length: EXACT_DIGITS + 1 }, (_, n) => 10 ** n)

/** The bytes that are being read, and how far. */
let bytes: Uint8Array = new Uint8Array(0)
let at = 0

/** Goes past white space; the byte that comes then, -1 at the end. */
function next(): number {
  while (at < bytes.length) {
    const byte = bytes[at]!
    if (byte > 0x20) return byte
    if (byte !== 0x20 && byte !== 0x0a && byte !== 0x0d && byte !== 0x09) return byte
    at++
  }
  return -1
}

/** Goes past white space and one byte; false when that is another. */
function skip(byte: number): boolean {
  if (next() !== byte) return false
  at++
  return true
}

function digits(): number {
  const from = at
  for (let byte = bytes[at]!; byte >= ZERO && byte <= 0x39; byte = bytes[at]!) at++
  return at - from
}

/** A number as RFC 8259, 6, has it; NaN: there is none here. */
function number(): number {
  next()
  const begin = at
  const minus = bytes[at] === MINUS
  if (minus) at++
  let mantissa = 0
  let places = 0
  let count = 0
  let byte = bytes[at]!
  const first = byte
  for (; byte >= ZERO && byte <= 0x39; byte = bytes[++at]!) {
    mantissa = mantissa * 10 + (byte - ZERO)
    count++
  }
  if (count === 0 || (first === ZERO && count > 1)) return NaN
  if (byte === POINT) {
    const whole = count
    for (byte = bytes[++at]!; byte >= ZERO && byte <= 0x39; byte = bytes[++at]!) {
      mantissa = mantissa * 10 + (byte - ZERO)
      count++
    }
    places = count - whole
    if (places === 0) return NaN
  }
  const hasExponent = (byte | 0x20) === 0x65
  if (hasExponent) {
    byte = bytes[++at]!
    if (byte === MINUS || byte === 0x2b) at++
    if (digits() === 0) return NaN
  }
  // One division of two exact numbers rounds once, as reading the text does.
  if (count > EXACT_DIGITS || hasExponent)
    return Number(String.fromCharCode(...bytes.subarray(begin, at)))
  const size = places === 0 ? mantissa : mantissa / POWERS[places]!
  return minus ? -size : size
}

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

/** Whether a quoted text stands here; goes past it then. */
function isNext(text: string): boolean {
  const end = at + 1 + text.length
  if (bytes[at] !== QUOTE || bytes[end] !== QUOTE) return false
  for (let i = 0; i < text.length; i++) {
    if (bytes[at + 1 + i] !== text.charCodeAt(i)) return false
  }
  at = end + 1
  return true
}

/** A channel's name in quotes; '' when it cannot be one. `guess`: what it was last time. */
function channel(guess: string | undefined): string {
  next()
  if (guess !== undefined && isNext(guess)) return guess
  if (bytes[at] !== QUOTE) return ''
  const end = bytes.indexOf(QUOTE, at + 1)
  if (end < 0 || end - at > 9) return ''
  const name = String.fromCharCode(...bytes.subarray(at + 1, end))
  if (!isChannel(name)) return ''
  at = end + 1
  return name
}

/** Values by channel; null when there is something unusual about them. */
function readValues(channels: string[]): Record<string, number | null> | null {
  if (!skip(OPEN)) return null
  const values: Record<string, number | null> = {}
  for (let i = 0; ; i++) {
    const name = channel(channels[i])
    if (i === MAX_CHANNELS_PER_MESSAGE || name === '' || values[name] !== undefined) return null
    channels[i] = name
    if (!skip(COLON)) return null
    if (next() === LOWER_N) {
      if (bytes[at + 1] !== 0x75 || bytes[at + 2] !== 0x6c || bytes[at + 3] !== 0x6c) return null
      at += 4
      values[name] = null
    } else {
      const value = number()
      if (!(value >= -VALUE_LIMIT && value <= VALUE_LIMIT)) return null
      values[name] = value
    }
    if (skip(COMMA)) continue
    return skip(CLOSE) ? values : null
  }
}

/** A whole number from `min` to `max`; NaN: something else. */
function count(min: number, max: number): number {
  const value = number()
  return value >= min && value <= max && Math.floor(value) === value ? value : NaN
}

/**
 * The body of a live reading, or null: the schema has to look at it.
 *
 * @param channels names in the order in which this probe gave them last time; those of this time stand there then
 */
export function quickReading(payload: Uint8Array, channels: string[]): ReadingBody | null {
  bytes = payload
  at = 0
  let b = NaN
  let n = NaN
  let u = NaN
  let t = NaN
  let f = NaN
  let v: Record<string, number | null> | null = null
  let seen = 0
  if (!skip(OPEN)) return null
  do {
    if (next() !== QUOTE || bytes[at + 2] !== QUOTE) return null
    const member = bytes[at + 1]
    at += 3
    if (!skip(COLON)) return null
    let bit: number
    if (member === B) {
      bit = 1
      b = count(0, UINT32_MAX - 1)
      if (Number.isNaN(b)) return null
    } else if (member === N) {
      bit = 2
      n = count(0, UINT32_MAX)
      if (Number.isNaN(n)) return null
    } else if (member === U) {
      bit = 4
      u = count(0, UINT32_MAX)
      if (Number.isNaN(u)) return null
    } else if (member === V) {
      bit = 8
      v = readValues(channels)
      if (v === null) return null
    } else if (member === T) {
      bit = 16
      t = count(EPOCH_MIN_S, UINT32_MAX)
      if (Number.isNaN(t)) return null
    } else if (member === F) {
      bit = 32
      f = count(0, 65_535)
      if (Number.isNaN(f)) return null
    } else return null
    if ((seen & bit) !== 0) return null
    seen |= bit
  } while (skip(COMMA))
  if (!skip(CLOSE) || next() !== -1) return null
  if ((seen & NEEDED) !== NEEDED || v === null) return null
  const body: ReadingBody = { b, n, u, v }
  if (!Number.isNaN(t)) body.t = t
  if (!Number.isNaN(f)) body.f = f
  return body
}
