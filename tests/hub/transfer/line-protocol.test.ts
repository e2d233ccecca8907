import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { formatLine, parseLine } from '#hub/transfer/line-protocol.ts'
import type { FieldValue, Line } from '#hub/transfer/line-protocol.ts'

const float = (value: number): FieldValue => ({ kind: 'float', value })
const line = (change: Partial<Line>): Line => ({
  measurement: 'reading',
  tags: [['probe', 'fern1']],
  fields: [['phmv', float(12.5)]],
  timestamp: 1_780_218_000_000_000_000n,
  ...change,
})

// InfluxData, "Line protocol reference" (InfluxDB OSS v2): "Special characters", "Data types and format", "Comments".
describe('writing', () => {
  test.each<[Partial<Line>, string]>([
    [{}, 'reading,probe=fern1 phmv=12.5 1780218000000000000'],
    [{ timestamp: null }, 'reading,probe=fern1 phmv=12.5'],
    [
      { measurement: 'my reading,1=a', tags: [] },
      'my\\ reading\\,1=a phmv=12.5 1780218000000000000',
    ],
    [
      {
        tags: [
          ['b', 'x y'],
          ['a k', 'p,q=r'],
        ],
        timestamp: 1n,
      },
      'reading,a\\ k=p\\,q\\=r,b=x\\ y phmv=12.5 1',
    ],
    [
      {
        fields: [
          ['f', float(3)],
          ['i', { kind: 'integer', value: -9_223_372_036_854_775_808n }],
          ['u', { kind: 'unsigned', value: 18_446_744_073_709_551_615n }],
          ['b', { kind: 'boolean', value: true }],
          ['s', { kind: 'string', value: 'say "a\\b", c=d' }],
        ],
        timestamp: -1n,
      },
      'reading,probe=fern1 f=3,i=-9223372036854775808i,u=18446744073709551615u,b=true,s="say \\"a\\\\b\\", c=d" -1',
    ],
    [{ fields: [['f', float(1e21)]] }, 'reading,probe=fern1 f=1e+21 1780218000000000000'],
  ])('%#', (change, text) => {
    expect(formatLine(line(change))).toBe(text)
  })

  test.each<[string, Partial<Line>]>([
    ['no field', { fields: [] }],
    ['a number that is none', { fields: [['f', float(NaN)]] }],
    ['an infinite number', { fields: [['f', float(Infinity)]] }],
    ['an empty name', { measurement: '' }],
    ['a line end in a name', { tags: [['a', 'x\ny']] }],
    ['a backslash at the end', { tags: [['a', 'x\\']] }],
    ['what reads as a comment', { measurement: '#x' }],
  ])('refuses %s', (_, change) => {
    expect(() => formatLine(line(change))).toThrow(TypeError)
  })
})

describe('reading', () => {
  test.each([
    ['f=1', float(1)],
    ['f=-1.5e3', float(-1500)],
    ['f=.5', float(0.5)],
    ['f=1.', float(1)],
    ['f=15i', { kind: 'integer', value: 15n }],
    ['f=15u', { kind: 'unsigned', value: 15n }],
    ['f=T', { kind: 'boolean', value: true }],
    ['f=false', { kind: 'boolean', value: false }],
    ['f="a b,c=d \\" \\\\ e"', { kind: 'string', value: 'a b,c=d " \\ e' }],
  ])('%s', (field, value) => {
    expect(parseLine(`m ${field} 5`)).toEqual({
      measurement: 'm',
      tags: [],
      fields: [['f', value]],
      timestamp: 5n,
    })
  })

  test('a comment and an empty line are nothing', () => {
    expect(parseLine('# reading f=1')).toBeNull()
    expect(parseLine('  \r')).toBeNull()
  })

  test('a quote outside a field is a letter', () => {
    expect(parseLine('m,t="x f=1')).toMatchObject({ tags: [['t', '"x']] })
  })

  test.each([
    ['m', /measurement, fields/],
    [',a=b f=1', /measurement first/],
    ['m,a f=1', /tag such as/],
    ['m f', /field such as/],
    ['m f=', /field such as/],
    ['m f=1x', /a number, true, false or text/],
    ['m f=9223372036854775808i', /a number/],
    ['m f=-1u', /a number/],
    ['m f=1e999', /a number/],
    ['m f="open', /a number, true, false or text/],
    ['m f=1 12.5', /whole number as time/],
    ['m f=1 12 13', /nothing after the time/],
  ])('%s is refused with what was expected', (text, expected) => {
    expect(parseLine(text)).toMatchObject({ expected: expect.stringMatching(expected) })
  })
})

/** Names without what cannot be written: line ends, and a backslash where it would be an escape. */
const name = fc
  .string({ unit: fc.constantFrom(...'abzZ09_ ,="#\\é°'.split('')), minLength: 1, maxLength: 12 })
  .filter((text) => !/\\[,= "\\]|\\$/.test(text) && !/^[ #]|[ ]$/.test(text))
const value: fc.Arbitrary<FieldValue> = fc.oneof(
  fc.double({ noNaN: true, noDefaultInfinity: true }).map(float),
  fc
    .bigInt({ min: -(2n ** 63n), max: 2n ** 63n - 1n })
    .map((v) => ({ kind: 'integer' as const, value: v })),
  fc.bigInt({ min: 0n, max: 2n ** 64n - 1n }).map((v) => ({ kind: 'unsigned' as const, value: v })),
  fc.boolean().map((v) => ({ kind: 'boolean' as const, value: v })),
  fc
    .string({ unit: fc.constantFrom(...'ab ,="\\\'é'.split('')), maxLength: 12 })
    .map((v) => ({ kind: 'string' as const, value: v })),
)

test('what was written is read as it was', () => {
  fc.assert(
    fc.property(
      name,
      fc.uniqueArray(fc.tuple(name, name), { selector: ([key]) => key, maxLength: 3 }),
      fc.uniqueArray(fc.tuple(name, value), {
        selector: ([key]) => key,
        minLength: 1,
        maxLength: 4,
      }),
      fc.option(fc.bigInt({ min: -(10n ** 18n), max: 10n ** 18n })),
      (measurement, tags, fields, timestamp) => {
        const sorted = tags.toSorted(([a], [b]) => (a < b ? -1 : 1))
        const made: Line = { measurement, tags: sorted, fields, timestamp }
        expect(parseLine(formatLine(made))).toEqual(made)
      },
    ),
    { numRuns: 2000, seed: 41 },
  )
})

test('no text at all makes it fall over', () => {
  fc.assert(
    fc.property(fc.string({ unit: fc.constantFrom(...'m,=f1i"\\ #\r\n.é'.split('')) }), (text) => {
      const read = parseLine(text)
      expect(read === null || 'expected' in read || read.fields.length > 0).toBe(true)
    }),
    { numRuns: 3000, seed: 42 },
  )
})
