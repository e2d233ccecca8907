import fc from 'fast-check'

/** Texts that have broken programs: markup, paths, formulas, control characters, names of object members. */
export const HOSTILE_TEXTS: readonly string[] = [
  '',
  ' ',
  '\u0000',
  'a\u0000b',
  '\r\nX-Planted: yes',
  '\u001b[2J\u001b]0;planted\u0007',
  '\ud800',
  '\udfff\ud800',
  '\u202egnp.exe',
  '\ufeff',
  '\u2028\u2029',
  '\u{1f331}'.repeat(30),
  'e\u0301'.repeat(40),
  '<script>document.title="planted"</script>',
  '"><img src=x onerror=document.title="planted">',
  'javascript:alert(1)',
  '=HYPERLINK("http://planted.invalid","x")',
  '../../../../etc/passwd',
  '..\\..\\windows\\win.ini',
  '%2e%2e%2f',
  '%',
  '%ff',
  '__proto__',
  'constructor',
  'toString',
  'hasOwnProperty',
  "'; DROP TABLE beds; --",
  '${7*7}{{7*7}}',
  'null',
  'undefined',
  'NaN',
  'true',
  '-1',
  '0x10',
  '1e999',
  '9007199254740993',
  '99999999999999999999999999999999',
  'Europe/../Lisbon',
  '9999-12-31T23:59:60Z',
  'x'.repeat(10_000),
  `${'a'.repeat(3000)}!`,
  '('.repeat(500),
  `${'9'.repeat(400)}.${'9'.repeat(400)}`,
]

/** Numbers at and past every edge. `Infinity` stands for 1e999, which JSON can spell. */
export const HOSTILE_NUMBERS: readonly number[] = [
  0,
  -0,
  -1,
  1,
  0.5,
  1e-300,
  5e-324,
  -1e-9,
  2 ** 31,
  2 ** 32,
  2 ** 53 - 1,
  2 ** 53,
  2 ** 63,
  -(2 ** 63),
  8.64e15,
  8.64e15 + 1,
  -8.64e15,
  1e21,
  1e300,
  -1e300,
  Infinity,
  -Infinity,
]

/** JSON with 1e999 where a number is infinite and members under the names a literal cannot have. */
export function hostileJson(value: unknown): string {
  if (typeof value === 'number') {
    if (Number.isFinite(value)) return Object.is(value, -0) ? '-0' : JSON.stringify(value)
    return Number.isNaN(value) ? 'null' : value > 0 ? '1e999' : '-1e999'
  }
  if (Array.isArray(value)) return `[${value.map(hostileJson).join(',')}]`
  if (typeof value === 'object' && value !== null) {
    const members = Object.entries(value).map(
      ([name, member]) => `${JSON.stringify(name)}:${hostileJson(member)}`,
    )
    return `{${members.join(',')}}`
  }
  return JSON.stringify(value) ?? 'null'
}

/** An object whose own member is called `__proto__`, as JSON.parse makes it. */
const withProto = (value: unknown): object =>
  JSON.parse(`{"__proto__":${hostileJson(value)}}`) as object

/** `depth` lists or objects in one another. */
export function nested(depth: number, as: 'list' | 'object'): unknown {
  let inner: unknown = 1
  for (let i = 0; i < depth; i++) inner = as === 'list' ? [inner] : { a: inner }
  return inner
}

export const hostileText = fc.oneof(
  { weight: 3, arbitrary: fc.constantFrom(...HOSTILE_TEXTS) },
  { weight: 1, arbitrary: fc.string({ unit: 'binary', maxLength: 80 }) },
)
export const hostileNumber = fc.oneof(
  fc.constantFrom(...HOSTILE_NUMBERS),
  fc.double({ noNaN: true }),
  fc.integer(),
)

/** Any value of JSON, most of them unkind. */
export const hostileValue: fc.Arbitrary<unknown> = fc.oneof(
  hostileText,
  hostileNumber,
  fc.constantFrom<unknown>(
    null,
    true,
    false,
    [],
    {},
    [[]],
    [null],
    nested(200, 'list'),
    nested(200, 'object'),
    withProto({ polluted: 'planted' }),
    { constructor: { prototype: { polluted: 'planted' } } },
    Array.from({ length: 3000 }, (_, i) => i),
    Object.fromEntries(Array.from({ length: 500 }, (_, i) => [`k${i}`, i])),
  ),
  fc.jsonValue({ maxDepth: 3 }),
)

/** Member names nobody asked for. */
export const hostileName = fc.constantFrom(
  '__proto__',
  'constructor',
  'prototype',
  'toString',
  'valueOf',
  'hasOwnProperty',
  'length',
  '',
  'id',
  '\u0000',
  '<b>',
)
