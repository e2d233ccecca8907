import fc from 'fast-check'
import type { Document, Schema } from '#hub/api/open-api/document.ts'
import { hostileName, hostileText, hostileValue } from './hostile.ts'

/** Deeper than this a schema that repeats itself is cut off. */
const DEEPEST = 7

const list = (schema: Schema, keyword: string): readonly Schema[] =>
  (schema[keyword] as readonly Schema[] | undefined) ?? []
const amount = (schema: Schema, keyword: string): number | undefined => {
  const value = schema[keyword]
  return typeof value === 'number' ? value : undefined
}

/** Values that a schema of the document allows, as far as its keywords tell. */
export function fromSchema(document: Document, schema: Schema, depth = 0): fc.Arbitrary<unknown> {
  const of = (inner: Schema): fc.Arbitrary<unknown> => fromSchema(document, inner, depth + 1)
  if (depth > DEEPEST) return fc.constant(null)
  const ref = schema['$ref']
  if (typeof ref === 'string') {
    const name = ref.replace('#/components/schemas/', '')
    const found = document.components.schemas?.[name]
    if (found === undefined) throw new Error(`the document has no ${ref}`)
    return fromSchema(document, found, depth + 1)
  }
  if ('const' in schema) return fc.constant(schema['const'])
  if (Array.isArray(schema['enum'])) return fc.constantFrom(...(schema['enum'] as unknown[]))
  const ways = [...list(schema, 'anyOf'), ...list(schema, 'oneOf')]
  if (ways.length > 0) return fc.oneof(...ways.map(of))
  const all = list(schema, 'allOf')
  if (all.length > 0) {
    return fc
      .tuple(...all.map(of))
      .map((parts) => Object.assign({}, ...(parts as object[])) as object)
  }
  const { type } = schema
  switch (Array.isArray(type) ? type[0] : type) {
    case 'string':
      return textOf(schema)
    case 'integer':
      return wholeOf(schema)
    case 'number':
      return numberOf(schema)
    case 'boolean':
      return fc.boolean()
    case 'null':
      return fc.constant(null)
    case 'array':
      return listOf(schema, of)
    case 'object':
      return objectOf(schema, of)
    default:
      return fc.jsonValue({ maxDepth: 2 })
  }
}

function textOf(schema: Schema): fc.Arbitrary<unknown> {
  const { pattern } = schema
  const [minLength, maxLength] = [amount(schema, 'minLength') ?? 0, amount(schema, 'maxLength')]
  const plain = fc.oneof(
    fc.constantFrom('Kestrel', 'west', 'phmv', 'kes1', 'ph', 'Europe/Lisbon', 'lettuce'),
    fc.string({ minLength, maxLength: Math.min(maxLength ?? 30, 300), unit: 'grapheme' }),
  )
  if (typeof pattern !== 'string' || pattern.includes('\\P') || pattern.includes('\\p')) {
    return plain
  }
  return fc.oneof(fc.stringMatching(new RegExp(pattern)), plain)
}

function wholeOf(schema: Schema): fc.Arbitrary<unknown> {
  const min = Math.ceil(amount(schema, 'minimum') ?? (amount(schema, 'exclusiveMinimum') ?? -3) + 1)
  const max = Math.floor(amount(schema, 'maximum') ?? Number.MAX_SAFE_INTEGER)
  const around = Date.UTC(2026, 4, 19)
  const near = [1, 2, 3, around, around + 3_600_000].filter((n) => n >= min && n <= max)
  const any = fc.integer({ min: Math.max(min, -(2 ** 53) + 1), max: Math.min(max, 2 ** 53 - 1) })
  return near.length === 0 ? any : fc.oneof(fc.constantFrom(...near), any)
}

function numberOf(schema: Schema): fc.Arbitrary<unknown> {
  const min = amount(schema, 'minimum') ?? amount(schema, 'exclusiveMinimum')
  const max = amount(schema, 'maximum') ?? amount(schema, 'exclusiveMaximum')
  return fc.double({
    noNaN: true,
    noDefaultInfinity: true,
    ...(min === undefined ? {} : { min }),
    ...(max === undefined ? {} : { max }),
  })
}

function listOf(schema: Schema, of: (inner: Schema) => fc.Arbitrary<unknown>) {
  const prefix = list(schema, 'prefixItems')
  if (prefix.length > 0) return fc.tuple(...prefix.map(of))
  const minLength = amount(schema, 'minItems') ?? 0
  return fc.array(of((schema['items'] as Schema | undefined) ?? {}), {
    minLength,
    maxLength: Math.max(minLength, Math.min(amount(schema, 'maxItems') ?? 4, 4)),
  })
}

function objectOf(schema: Schema, of: (inner: Schema) => fc.Arbitrary<unknown>) {
  const properties = (schema['properties'] ?? {}) as Readonly<Record<string, Schema>>
  const names = Object.keys(properties)
  if (names.length === 0) {
    const values = schema['additionalProperties']
    const inner =
      typeof values === 'object' && values !== null ? of(values as Schema) : fc.jsonValue()
    return fc.dictionary(fc.constantFrom('phmv', 'm', 'a', 'b'), inner, { maxKeys: 4 })
  }
  return fc.record(Object.fromEntries(names.map((name) => [name, of(properties[name]!)])), {
    requiredKeys: ((schema['required'] ?? []) as string[]).filter((name) => names.includes(name)),
  })
}

type Path = readonly (string | number)[]

function pathsIn(value: unknown, path: Path = []): Path[] {
  if (typeof value !== 'object' || value === null || path.length > 6) return [path]
  const inner = Object.entries(value).flatMap(([name, member]) => pathsIn(member, [...path, name]))
  return [path, ...inner]
}

function replaced(value: unknown, path: Path, by: (old: unknown) => unknown): unknown {
  const [head, ...rest] = path
  if (head === undefined) return by(value)
  if (Array.isArray(value)) {
    return value.map((one: unknown, i) => (String(i) === head ? replaced(one, rest, by) : one))
  }
  if (typeof value !== 'object' || value === null) return value
  return Object.fromEntries(
    Object.entries(value).map(([name, member]) => [
      name,
      name === head ? replaced(member, rest, by) : member,
    ]),
  )
}

const withMember = (old: unknown, name: string, member: unknown): unknown => {
  if (typeof old !== 'object' || old === null) return { [name]: member }
  // `Object.fromEntries` makes an own member even under the name `__proto__`.
  return Object.fromEntries([...Object.entries(old), [name, member]])
}

/** The same value with one place broken: another value, a member too many, a member less. */
export const broken = (value: unknown): fc.Arbitrary<unknown> =>
  fc
    .record({
      path: fc.constantFrom(...pathsIn(value)),
      how: fc.constantFrom('value', 'text', 'member', 'less', 'twice'),
      by: hostileValue,
      text: hostileText,
      name: hostileName,
    })
    .map(({ path, how, by, text, name }) =>
      replaced(value, path, (old) => {
        switch (how) {
          case 'value':
            return by
          case 'text':
            return text
          case 'member':
            return withMember(old, name, by)
          case 'twice':
            return [old, old]
          case 'less': {
            if (typeof old !== 'object' || old === null) return undefined
            return Object.fromEntries(Object.entries(old).slice(1))
          }
        }
      }),
    )
