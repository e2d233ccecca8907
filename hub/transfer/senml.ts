import { say } from '../words/say.ts'
import { jsonRecords, type JsonTrouble } from './json-records.ts'

/*
 * SenML in JSON (RFC 8428), as far as it holds numbers: base fields apply to what follows, until they are given anew.
 * Section numbers below from memory.
 */

/** A record with its base fields applied (RFC 8428, 4.6). */
export interface Measured {
  /** Name of base and record together. */
  readonly name: string
  readonly unit: string | null
  /** Epoch ms. */
  readonly at: number
  readonly value: number
}
export interface SenmlProblem {
  /** The label it is about, such as 'bt'; null: the record as a whole. */
  readonly label: string | null
  readonly expected: string
  readonly got: string
}
export type SenmlRow = { readonly line: number; readonly number: number } & (
  | { readonly measured: Measured }
  | { readonly problem: SenmlProblem }
)

/** Times below it count from now, which a file does not know (4.5.3). */
const RELATIVE_BELOW = 2 ** 28
/** The version of the format there is (4.4); a later one says by its number that it needs more. */
const VERSION = 10
/** Letters, digits and - : . / _, a letter or digit first (4.5.1). */
const NAME = /^[A-Za-z0-9][A-Za-z0-9\-:./_]*$/
const LONGEST_NAME = 200

interface Base {
  name: string
  unit: string | null
  time: number
  value: number
}
type Fields = Readonly<Record<string, unknown>>

const shown = (value: unknown): string => {
  const text = value === undefined ? say`nothing` : JSON.stringify(value)
  return text.length > 60 ? `${text.slice(0, 59)}…` : text
}
const wrong = (label: string | null, expected: string, got: unknown): SenmlProblem => ({
  label,
  expected,
  got: typeof got === 'string' && label === null ? got : shown(got),
})

const TROUBLES: Readonly<Record<JsonTrouble, () => string>> = {
  'no array': () => say`a JSON array of records that begins with [`,
  'no object': () => say`a record in { } and a comma between two of them`,
  'too long': () => say`a record of at most 64 KiB`,
  'broke off': () => say`a file that ends with ]`,
  'more behind it': () => say`nothing behind the closing ]`,
}

/** Records of a file one by one. After a fault of the array itself nothing more is read. */
export async function* senmlRows(source: AsyncIterable<Uint8Array>): AsyncGenerator<SenmlRow> {
  const base: Base = { name: '', unit: null, time: 0, value: 0 }
  for await (const record of jsonRecords(source)) {
    const { line, number } = record
    if ('trouble' in record) {
      const got = record.trouble === 'broke off' ? say`its end` : say`something else`
      yield { line, number, problem: wrong(null, TROUBLES[record.trouble](), got) }
      return
    }
    const found = readRecord(record.text, base)
    if (found !== null) yield { line, number, ...found }
  }
}

/** Null: base fields alone. What they say holds from here on. */
function readRecord(
  text: string,
  base: Base,
): { readonly measured: Measured } | { readonly problem: SenmlProblem } | null {
  let fields: Fields
  try {
    fields = JSON.parse(text) as Fields
  } catch {
    return { problem: wrong(null, say`a record that is JSON`, text.slice(0, 60)) }
  }
  const problem = takeBase(fields, base) ?? unknownNeed(fields)
  if (problem !== null) return { problem }
  const has = (label: string): boolean => Object.hasOwn(fields, label)
  if (!['n', 'v', 'vs', 'vb', 'vd', 's', 'u', 't'].some(has)) return null
  return resolved(fields, base)
}

function takeBase(fields: Fields, base: Base): SenmlProblem | null {
  for (const label of ['bn', 'bu'] as const) {
    if (!Object.hasOwn(fields, label)) continue
    const value = fields[label]
    if (typeof value !== 'string') return wrong(label, say`text`, value)
    if (label === 'bn') base.name = value
    else base.unit = value
  }
  for (const label of ['bt', 'bv'] as const) {
    if (!Object.hasOwn(fields, label)) continue
    const value = fields[label]
    if (!isNumber(value)) return wrong(label, say`a number`, value)
    if (label === 'bt') base.time = value
    else base.value = value
  }
  if (!Object.hasOwn(fields, 'bver')) return null
  const version = fields['bver']
  const fits = Number.isInteger(version) && Number(version) > 0 && Number(version) <= VERSION
  return fits ? null : wrong('bver', say`version ${VERSION} of SenML at most`, version)
}

/** A label that ends with _ must be understood by whoever reads it (4.4); others may be left out. */
function unknownNeed(fields: Fields): SenmlProblem | null {
  const label = Object.keys(fields).find((name) => name.endsWith('_'))
  if (label === undefined) return null
  const expected = say`labels that this hub knows: one that ends with _ must not be left out`
  return wrong(null, expected, label.slice(0, 60))
}

function resolved(
  fields: Fields,
  base: Base,
): { readonly measured: Measured } | { readonly problem: SenmlProblem } {
  const { n = '', u, t = 0, v } = fields
  const name = typeof n === 'string' ? base.name + n : ''
  if (!NAME.test(name) || name.length > LONGEST_NAME) {
    const expected = say`a name of letters, digits and - : . / _, a letter or digit first`
    return { problem: wrong('n', expected, name === '' ? n : name) }
  }
  if (u !== undefined && typeof u !== 'string') return { problem: wrong('u', say`text`, u) }
  if (!isNumber(t)) return { problem: wrong('t', say`a number`, t) }
  const seconds = base.time + t
  if (!(seconds >= RELATIVE_BELOW)) {
    const expected = say`seconds since 1970-01-01 UTC: a time that counts from now cannot be read from a file`
    return { problem: wrong('t', expected, seconds) }
  }
  if (!isNumber(v)) return { problem: wrong('v', say`a number`, v) }
  const value = base.value === 0 ? v : Number((base.value + v).toPrecision(12))
  if (!Number.isFinite(value)) return { problem: wrong('v', say`a number`, v) }
  return { measured: { name, unit: u ?? base.unit, at: Math.round(seconds * 1000), value } }
}

const isNumber = (value: unknown): value is number =>
  typeof value === 'number' && Number.isFinite(value)

/** What a name says: the probe is the part before the last, the channel the last one. */
export function partsOf(name: string): { readonly probe: string; readonly channel: string } {
  const parts = name.split(/[:/]/)
  return { probe: parts.at(-2) ?? '', channel: parts.at(-1) ?? '' }
}
