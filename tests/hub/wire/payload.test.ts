import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  decode,
  encodeBatch,
  encodeBirth,
  encodeChannel,
  encodePlain,
  encodeReading,
  encodeState,
} from '#hub/wire/payload.ts'
import type { Decoded } from '#hub/wire/payload.ts'
import { STRICT } from '#hub/wire/schemas.ts'
import { seededRandom } from '#tests/support/random.ts'

const bytes = (text: string): Uint8Array => new TextEncoder().encode(text)

function problemsOf(topic: string, text: string | Uint8Array, strict = false): string[] {
  const result = decode(topic, typeof text === 'string' ? bytes(text) : text, { strict })
  return 'problems' in result ? result.problems.map((p) => `${p.clause} ${p.message}`) : []
}

function decoded(topic: string, text: string, strict = false): Decoded {
  const result = decode(topic, bytes(text), { strict })
  if ('problems' in result) throw new Error(result.problems.map((p) => p.message).join('; '))
  return result
}

test('a reading comes out as it was sent', () => {
  const text =
    '{"b":12,"n":345,"u":86460,"v":{"phmv":10.6,"ph":6.82,"m1":1873,"st":18.25,"bat":3.92}}'
  const message = decoded('lm1/bed3a/up/r', text)
  expect(message).toMatchObject({
    kind: 'reading',
    probe: 'bed3a',
    body: JSON.parse(text),
    notes: [],
  })
  if (message.kind === 'reading') expect(encodeReading(message.body)).toBe(text)
})

test('what is written fits the byte budget and is read back', () => {
  const batch = {
    b: 12,
    u: 90_000,
    c: ['phmv', 'm1', 'st'],
    r: [
      [346, 86_520, 10.6, 1873, 18.25],
      [347, 87_420, 10.6, null, 18.3],
    ],
  }
  expect(encodeBatch(batch)).toHaveLength(102)
  expect(decoded('lm1/bed3a/up/b', encodeBatch(batch), true)).toMatchObject({ body: batch })
  expect(encodeState({ u: 4, b: 12, s: 'on' })).toBe('{"s":"on","b":12,"u":4}')
  expect(
    encodeBirth({
      p: 1,
      fw: 'ex 0.3.1',
      hw: 'avr328+w5500',
      b: 12,
      u: 4,
      iv: 900,
      ch: 'phmv,ph,m1,st,bat',
      cv: 5,
    }),
  ).toHaveLength(97)
  expect(encodeChannel({ q: 'ph.emf', u: 'mV', lsb: 0.0625, d: 0.15 })).toBe(
    '{"q":"ph.emf","u":"mV","d":0.15,"lsb":0.0625}',
  )
})

test('a value that is no number leaves as null: the sensor failed', () => {
  expect(encodeReading({ b: 1, n: 0, u: 3, v: { ph: NaN } })).toBe(
    '{"b":1,"n":0,"u":3,"v":{"ph":null}}',
  )
  expect(encodePlain(Infinity)).toBe('null')
})

describe('slips of C firmware are named', () => {
  test.each([
    ['{"b":1,"n":1,"u":9,"v":{"ph":nan}}', /no NaN or infinity \(send null/],
    ['{"b":1,"n":1,"u":9,"v":{"ph":-inf}}', /no NaN or infinity/],
    ['{"b":1,"n":1,"u":9,"v":{"ph":?}}', /printf without floating point/],
    ['{"b":1,"n":1,"u":9,"v":{"ph":6,82}}', /decimal point, not a comma/],
    ['{"b":1,"n":1,"u":9,"v":{"ph":6.82,}}', /comma before a closing bracket/],
    ['{"b":1,"n":1,"u":9,"v":{"ph":6.', /stops in the middle, after 31 characters/],
    ['{"b":1,"n":1,"u":9,"v":{"m1":1}}\0', /NUL byte/],
    ['\uFEFF{"b":1,"n":1,"u":9,"v":{"m1":1}}', /byte-order mark/],
    ['', /got nothing/],
    ['hello', /expected JSON, got the text "hello"/],
    [
      '{"b":1,"n":1,"u":9,"v":{"ph":"6.82"}}',
      /v\.ph: expected a number .* \(send a number without quotes\)/,
    ],
    ['{"b":1,"n":1,"u":9,"v":{"ph":1e999}}', /v\.ph: expected a number/],
    ['{"b":1,"n":1,"u":9,"t":1780000000000,"v":{"m1":1}}', /LM-14 t: .*milliseconds/],
    ['{"b":1,"n":1,"u":9,"t":12,"v":{"m1":1}}', /LM-14 t: .*unset clock/],
    ['{"n":1,"u":9,"v":{"m1":1}}', /LM-12 b: expected boot id.*got nothing/],
    ['{"b":4294967295,"n":1,"u":9,"v":{"m1":1}}', /LM-12 b:/],
    ['{"b":1,"n":-1,"u":9,"v":{"m1":1}}', /LM-11 n: .*got -1/],
    ['{"b":1,"n":1,"u":9.5,"v":{"m1":1}}', /LM-13 u: .*got 9\.5/],
    ['{"b":1,"n":1,"u":9,"v":{"pH":6.8}}', /LM-08 v\.pH: expected a channel name/],
    ['{"b":1,"n":1,"u":9,"v":{}}', /v: expected values by channel name/],
    ['{"b":1,"n":1,"u":9,"v":{"__proto__":6.8}}', /v\.__proto__: a member of this name/],
    ['{"b":1,"n":1,"u":9,"v":{"m1":1},"__proto__":{"x":1}}', /__proto__: a member of this name/],
    ['{"b":1,"n":1,"u":9,"v":[1]}', /v: expected values by channel name/],
    ['[1,1,9]', /expected one JSON object \{\.\.\.\}, got \[1,1,9\]/],
    ['null', /expected one JSON object/],
  ])('%s', (text, message) => {
    expect(problemsOf('lm1/bed3a/up/r', text).join('\n')).toMatch(message)
  })

  test('Latin-1 instead of UTF-8', () => {
    const latin1 = Uint8Array.from('{"fw":"\u00b5 1"}', (c) => c.charCodeAt(0))
    expect(problemsOf('lm1/bed3a/up/birth', latin1)).toEqual([
      'LM-10 payload: expected UTF-8 text, got other bytes',
    ])
  })
})

describe('rows of a batch', () => {
  test.each([
    ['{"b":1,"u":90,"c":["m1"],"r":[[1,80,5],[0,85,5]]}', 'LM-24'],
    ['{"b":1,"u":90,"c":["m1"],"r":[[1,80,5],[1,85,5]]}', 'LM-24'],
    ['{"b":1,"u":90,"c":["m1"],"r":[[1,80,5],[2,70,5]]}', 'LM-13'],
    ['{"b":1,"u":90,"c":["m1"],"r":[[1,91,5]]}', 'LM-13'],
    ['{"b":1,"u":90,"c":["m1","st"],"r":[[1,80,5]]}', 'LM-10'],
    ['{"b":1,"u":90,"c":["m1"],"r":[[1,80,5,6]]}', 'LM-10'],
    ['{"b":1,"u":90,"c":["m1","m1"],"r":[[1,80,5,6]]}', 'LM-08'],
    ['{"b":1,"u":90,"c":["m1"],"r":[[1.5,80,5]]}', 'LM-11'],
    ['{"b":1,"u":90,"c":["m1"],"r":[[null,80,5]]}', 'LM-11'],
    ['{"b":1,"u":90,"c":["m1"],"r":[[1,-80,5]]}', 'LM-13'],
    ['{"b":1,"nb":1,"u":90,"c":["m1"],"r":[[1,80,5]]}', 'LM-12'],
    ['{"b":1,"u":90,"c":["m1"],"r":[]}', 'LM-10'],
  ])('%s breaks %s', (text, clause) => {
    const problems = problemsOf('lm1/bed3a/up/b', text)
    expect(problems.map((p) => p.slice(0, 5))).toContain(clause)
  })

  test('rows of an earlier boot may have any uptime', () => {
    const text = '{"b":11,"nb":12,"u":40,"c":["phmv"],"r":[[346,86520,10.6]]}'
    expect(decoded('lm1/bed3a/up/b', text, true)).toMatchObject({ kind: 'batch' })
  })
})

describe('the hub is tolerant, the judgement of firmware is not', () => {
  const unknown = '{"b":1,"n":0,"u":3,"v":{"m1":1},"extra":5}'
  test('members it does not know', () => {
    expect(decoded('lm1/bed3a/up/r', unknown)).toMatchObject({ kind: 'reading' })
    expect(problemsOf('lm1/bed3a/up/r', unknown, true).join()).toContain('knows no member "extra"')
  })
  test('more than 249 bytes', () => {
    const long = '{"b":1,"n":0,"u":3,"v":{"m1":1}}'.padEnd(236)
    expect(decoded('lm1/bed3a/up/r', long).notes).toMatchObject([{ clause: 'LM-03' }])
    expect(problemsOf('lm1/bed3a/up/r', long, true).join()).toMatch(/LM-03.*got 250/)
    expect(problemsOf('lm1/bed3a/up/r', long.slice(0, 235), true)).toEqual([])
  })
  test('more than 4096 bytes is too much for both', () => {
    expect(problemsOf('lm1/bed3a/up/r', ' '.repeat(4097)).join()).toMatch(/LM-03.*got 4097/)
  })
  test('sleep without how long', () => {
    const text = '{"s":"sleep","b":1,"u":3}'
    expect(decoded('lm1/bed3a/up/state', text).notes).toMatchObject([{ clause: 'LM-31' }])
    expect(problemsOf('lm1/bed3a/up/state', text, true).join()).toContain('LM-31')
  })
})

describe('plain numbers', () => {
  test.each([
    ['6.82', 6.82],
    ['-3', -3],
    ['1.5e3\n', 1500],
    ['null', null],
  ])('%j', (text, value) => {
    expect(decoded('lm1/bed3a/up/v/ph', text)).toMatchObject({
      kind: 'plain',
      channel: 'ph',
      value,
    })
  })
  test.each(['', 'nan', '6,82', '0x10', '1e999', '6.82 pH', '{"v":1}', '1 2'])(
    '%j is none',
    (text) => {
      expect(problemsOf('lm1/bed3a/up/v/ph', text).join()).toMatch(/expected one number/)
    },
  )
})

test('SenML is kept aside with a clear word', () => {
  expect(problemsOf('lm1/bed3a/up/s', '[{"n":"ph","v":6.8}]').join()).toContain(
    'not part of the accepted profiles yet',
  )
})

test.each([
  ['temp.soil', '%'],
  ['temp.soil', 'degC'],
  ['vwc', '%'],
  ['ph.emf', 'V'],
])('a channel that senses %s does not come in %s', (q, u) => {
  expect(problemsOf('lm1/bed3a/up/ch/x', JSON.stringify({ q, u })).join()).toContain('LM-08 u:')
})

/*
 * 24,000 damaged messages: never a crash, and what is accepted is exactly what the strict schema and the
 * rules allow. The damage is of the kind a bad link, a full buffer or a slip of firmware makes.
 */
const SEEDS: readonly (readonly [string, string])[] = [
  [
    'lm1/bed3a/up/r',
    '{"b":12,"n":345,"u":86460,"t":1780000000,"f":3,"v":{"phmv":10.6,"m1":null},"s":{"phmv":0.2}}',
  ],
  [
    'lm1/bed3a/up/b',
    '{"b":12,"nb":13,"u":90000,"c":["phmv","m1"],"r":[[346,86520,10.6,1873],[347,87420,10.6,null]]}',
  ],
  ['lm1/bed3a/up/state', '{"s":"sleep","b":12,"u":90010,"nx":900}'],
  [
    'lm1/bed3a/up/birth',
    '{"p":1,"fw":"ex 0.3.1","hw":"x","b":12,"u":4,"iv":900,"ch":"phmv,ph","cv":5}',
  ],
  ['lm1/bed3a/up/ch/ph', '{"q":"ph","u":"pH","from":"phmv","a":-58.1,"z":7.02,"tc":"st","cv":5}'],
  ['lm1/bed3a/up/res', '{"id":5,"ok":false,"e":"iv"}'],
  ['lm1/bed3a/up/v/ph', '6.82'],
  ['lm1/bed3a/dn/cmd', '{"id":17,"do":"resend","b":12,"n":346,"k":15}'],
]
const SCRAPS = [
  '"',
  '{',
  '}',
  '[',
  ']',
  ',',
  ':',
  '-',
  '.',
  'e9',
  '1e400',
  'null',
  'nan',
  '__proto__',
  '\0',
  '?',
  '0',
  '99999999999',
  '"b"',
  '"v":{}',
  '\u00e9',
  ' ',
]

function damaged(text: string, random: () => number): Uint8Array {
  const pick = (n: number): number => Math.floor(random() * n)
  let data = Array.from(bytes(text))
  for (let k = 1 + pick(4); k > 0; k--) {
    const at = pick(data.length + 1)
    switch (pick(5)) {
      case 0:
        data.splice(at, 1 + pick(6))
        break
      case 1:
        data.splice(at, pick(2), ...bytes(SCRAPS[pick(SCRAPS.length)] ?? ''))
        break
      case 2:
        data[at] = pick(256)
        break
      case 3:
        data = data.slice(0, at)
        break
      default:
        data.splice(at, 0, ...data.slice(pick(data.length + 1), pick(data.length + 1)))
    }
  }
  return Uint8Array.from(data)
}

function numbersIn(value: unknown): number[] {
  if (typeof value === 'number') return [value]
  return typeof value === 'object' && value !== null ? Object.values(value).flatMap(numbersIn) : []
}

test('24,000 damaged messages: no crash, no wrong acceptance', () => {
  const random = seededRandom(20_260_601)
  let accepted = 0
  for (let i = 0; i < 24_000; i++) {
    const [topic, text] = SEEDS[i % SEEDS.length]!
    const data = damaged(text, random)
    const tolerant = decode(topic, data)
    const strict = decode(topic, data, { strict: true })
    for (const result of [tolerant, strict]) {
      if (!('problems' in result)) continue
      expect(result.problems.length).toBeGreaterThan(0)
      for (const p of result.problems) {
        expect(p.clause).toMatch(/^LM-\d\d$/)
        expect(p.message.length).toBeGreaterThan(10)
      }
    }
    if ('problems' in strict) continue
    accepted++
    expect('problems' in tolerant).toBe(false)
    if (strict.kind === 'plain') {
      expect(strict.value === null || Number.isFinite(strict.value)).toBe(true)
      continue
    }
    // Judged anew, from the text alone and by the schema alone.
    const json: unknown = JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(data))
    expect(STRICT[strict.kind].safeParse(json).success).toBe(true)
    expect(strict.body).toEqual(json)
    expect(numbersIn(strict.body).every((n) => Number.isFinite(n))).toBe(true)
  }
  // Some damage hits a digit or a blank and leaves a message that is as good as any.
  expect(accepted).toBeGreaterThan(500)
  expect(accepted).toBeLessThan(12_000)
})

test('any JSON at all on any topic: no crash', () => {
  fc.assert(
    fc.property(fc.constantFrom(...SEEDS.map(([topic]) => topic)), fc.json(), (topic, text) => {
      const result = decode(topic, bytes(text))
      expect('problems' in result || 'kind' in result).toBe(true)
    }),
    { numRuns: 4000, seed: 3 },
  )
})

test('any bytes on any topic: no crash', () => {
  fc.assert(
    fc.property(
      fc.string({ maxLength: 40 }),
      fc.uint8Array({ maxLength: 300 }),
      (topic, payload) => {
        expect('problems' in decode(`lm1/${topic}`, payload)).toBe(true)
      },
    ),
    { numRuns: 2000, seed: 4 },
  )
})
