import fc from 'fast-check'
import { expect, test } from 'vitest'
import { decode, decodeBySchema } from '#hub/wire/payload.ts'
import { quickReading } from '#hub/wire/quick-reading.ts'

const TOPIC = 'lm1/row1/up/r'
const bytes = (text: string): Uint8Array => new TextEncoder().encode(text)

/** Numbers at and around every limit, and things that are none. */
const thing = fc.oneof(
  fc.constantFrom(0, -0, 1, -1, 0.5, 65_535, 65_536, 1e9, -1e9, 1e9 + 1, 1.5e308),
  fc.constantFrom(4_294_967_294, 4_294_967_295, 4_294_967_296, 1_577_836_799, 1_577_836_800),
  fc.double({ noNaN: true, noDefaultInfinity: true }),
  fc.constantFrom(null, true, '7', '', [], [1], {}, { e1: 1 }),
)
const channel = fc.constantFrom(
  'e1',
  'm1',
  'phmv',
  'a',
  'abcdefgh',
  'abcdefghi',
  'E1',
  '1a',
  '',
  '__proto__',
)
const values = fc.oneof(
  fc.array(fc.tuple(channel, thing), { maxLength: 10 }),
  fc.array(
    fc.tuple(
      fc.constantFrom('e1', 'm1', 't1', 'bat'),
      fc.oneof(fc.float({ noNaN: true, noDefaultInfinity: true }), fc.constant(null)),
    ),
    { minLength: 1, maxLength: 4 },
  ),
)
const count = fc.integer({ min: 0, max: 100_000 })
/** JSON text written by hand, so that it can hold a member twice and names that objects cannot. */
const member = fc.oneof(
  { weight: 5, arbitrary: fc.tuple(fc.constantFrom('b', 'n', 'u'), count.map(String)) },
  {
    weight: 3,
    arbitrary: fc.tuple(
      fc.constantFrom('t', 'f', 's', 'x', '__proto__', 'b'),
      thing.map((one) => JSON.stringify(one) ?? 'null'),
    ),
  },
  {
    weight: 3,
    arbitrary: fc.tuple(
      fc.constantFrom('v', 'v', 'v', 's'),
      values.map(
        (some) =>
          `{${some.map(([name, value]) => `${JSON.stringify(name)}:${JSON.stringify(value)}`).join(',')}}`,
      ),
    ),
  },
)
const written = fc
  .tuple(fc.boolean(), fc.array(member, { maxLength: 7 }), values)
  .map(([whole, some, v]) => {
    const common = whole
      ? [
          '"b":1',
          '"n":2',
          '"u":3',
          `"v":{${v.map(([name, value]) => `${JSON.stringify(name)}:${JSON.stringify(value)}`).join(',')}}`,
        ]
      : []
    return `{${[...common, ...some.map(([name, text]) => `${JSON.stringify(name)}:${text}`)].join(',')}}`
  })

test('readings read the short way and by the schema are the same, and so is what is wrong with others', () => {
  decodeBySchema(TOPIC, bytes('{}'))
  let quick = 0
  fc.assert(
    fc.property(written, (text) => {
      const payload = bytes(text)
      expect(decode(TOPIC, payload), text).toEqual(decodeBySchema(TOPIC, payload))
      expect(decode(TOPIC, payload, { strict: true }), text).toEqual(
        decodeBySchema(TOPIC, payload, { strict: true }),
      )
      if (quickReading(JSON.parse(text)) !== null) quick++
    }),
    { numRuns: 3000 },
  )
  // It would hold nothing if the short way were never taken.
  expect(quick).toBeGreaterThan(100)
})

test('cut, broken and foreign bytes are told the same on both ways', () => {
  decodeBySchema(TOPIC, bytes('{}'))
  const right = bytes(
    '{"b":7,"n":12,"u":740,"t":1750000000,"f":1,"v":{"phmv":-41.125,"m1":1573,"st":null}}',
  )
  fc.assert(
    fc.property(fc.nat(right.length), fc.nat(right.length - 1), fc.nat(255), (length, at, byte) => {
      const changed = Uint8Array.from(right)
      changed[at] = byte
      for (const payload of [changed, changed.subarray(0, length), right.subarray(0, length)]) {
        expect(decode(TOPIC, payload)).toEqual(decodeBySchema(TOPIC, payload))
      }
    }),
    { numRuns: 1000 },
  )
})

test('a topic is known by its own spelling only, and a long message is still noted', () => {
  const body = bytes('{"b":7,"n":12,"u":740,"v":{"m1":1573}}')
  decode(TOPIC, body)
  expect(decode('lm1/row1/up/rr', body)).toHaveProperty('problems')
  expect(decode('lm1/ROW1/up/r', body)).toHaveProperty('problems')
  const long = bytes(`${new TextDecoder().decode(body)}${' '.repeat(300)}`)
  expect(decode(TOPIC, long)).toMatchObject({ kind: 'reading', notes: [{ clause: 'LM-03' }] })
})
