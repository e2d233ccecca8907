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

/** Numbers as programs write them, or nearly; many of them are none in JSON. */
const figure = fc.oneof(
  fc.double({ min: -1.1e9, max: 1.1e9, noNaN: true }).map(String),
  fc.tuple(fc.integer({ min: -99_999, max: 99_999 }), fc.nat(6)).map(([n, e]) => n.toFixed(e)),
  fc.bigInt({ min: 0n, max: 10n ** 30n }).map((n) => `0.${n}`),
  fc.bigInt({ min: 0n, max: 10n ** 20n }).map((n) => `12345678.${n}`),
  fc.constantFrom('-0', '-0.0', '0.1e1', '1E-7', '2e+05', '-3.25e2', '5e-324', '1e400', '0e0'),
  fc.constantFrom(
    '01',
    '-',
    '+1',
    '1.',
    '.5',
    '1e',
    '1e+',
    '0x10',
    '1_0',
    '--1',
    'NaN',
    'nul',
    'null',
  ),
)
const gap = fc.constantFrom('', '', ' ', '\n', '\t \r', '\u000b', '\u00a0')

test('figures of every spelling are the same numbers on both ways, with and without gaps', () => {
  decodeBySchema(TOPIC, bytes('{}'))
  let quick = 0
  fc.assert(
    fc.property(
      fc.array(figure, { minLength: 1, maxLength: 5 }),
      gap,
      gap,
      fc.boolean(),
      (figures, a, b, late) => {
        const names = ['e1', 'm1', 'st', 'bat', 'phmv']
        const values = figures.map((one, i) => `${a}"${names[i]!}"${b}:${a}${one}${b}`).join(',')
        const members = [`"b"${b}:7`, `${a}"n":12${a}`, '"u":740', `"v":${b}{${values}}${a}`]
        const payload = bytes(`${a}{${(late ? members : members.toReversed()).join(',')}}${b}`)
        const text = new TextDecoder().decode(payload)
        expect(decode(TOPIC, payload), text).toEqual(decodeBySchema(TOPIC, payload))
        // Whatever was guessed of the channels makes no difference.
        const read = quickReading(payload, [])
        for (const guess of [
          ['e1', 'm1', 'st'],
          ['bat', 'e1', 'e'],
          ['m', 'm1', 'stx', 'bat', 'phmv', 'x'],
        ])
          expect(quickReading(payload, guess), text).toEqual(read)
        if (read !== null) quick++
      },
    ),
    { numRuns: 2000 },
  )
  expect(quick).toBeGreaterThan(100)
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
      if (quickReading(payload, []) !== null) quick++
    }),
    { numRuns: 3000 },
  )
  // It would hold nothing if the short way were never taken.
  expect(quick).toBeGreaterThan(30)
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
