import { globSync, readFileSync } from 'node:fs'
import { basename } from 'node:path'
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { decode } from '#hub/wire/payload.ts'
import { judge } from './independent-judge.ts'

interface Vector {
  readonly topic: string
  readonly payload?: string
  /** Bytes that are no text. */
  readonly hex?: string
  readonly note: string
  readonly clause?: string
  /** The hub takes it all the same, and says what is wrong. */
  readonly hub?: 'takes'
}

function vectors(folder: 'valid' | 'invalid'): (Vector & { name: string; bytes: Uint8Array })[] {
  return globSync(`firmware-spec/vectors/${folder}/*.json`)
    .toSorted()
    .map((file) => {
      const vector = JSON.parse(readFileSync(file, 'utf8')) as Vector
      const bytes =
        vector.hex === undefined
          ? new TextEncoder().encode(vector.payload)
          : new Uint8Array(Buffer.from(vector.hex, 'hex'))
      return { ...vector, name: basename(file, '.json'), bytes }
    })
}
const VALID = vectors('valid')
const INVALID = vectors('invalid')

test('there are vectors of both sorts, for every topic', () => {
  expect(VALID.length).toBeGreaterThan(30)
  expect(INVALID.length).toBeGreaterThan(60)
  const leaves = new Set(VALID.map(({ topic }) => topic.split('/').slice(2, 4).join('/')))
  expect([...leaves].toSorted()).toEqual([
    'dn/ack',
    'dn/cfg',
    'dn/cmd',
    'dn/time',
    'up/b',
    'up/birth',
    'up/ch',
    'up/r',
    'up/res',
    'up/state',
    'up/v',
  ])
})

describe('valid', () => {
  test.each(VALID)('$name', ({ topic, bytes }) => {
    expect(judge(topic, bytes)).toBeNull()
    expect(decode(topic, bytes, { strict: true })).toMatchObject({ notes: [] })
    expect(decode(topic, bytes)).toMatchObject({ notes: [] })
  })
})

describe('invalid', () => {
  test.each(INVALID)('$name breaks $clause', ({ topic, bytes, clause, hub }) => {
    expect(judge(topic, bytes)).not.toBeNull()
    const strict = decode(topic, bytes, { strict: true })
    expect('problems' in strict && strict.problems.map((p) => p.clause)).toContain(clause)
    const tolerant = decode(topic, bytes)
    expect('problems' in tolerant ? 'keeps aside' : 'takes').toBe(hub ?? 'keeps aside')
  })
})

test('25,000 changed vectors are judged alike by the published schemas and by the hub', () => {
  const all = [...VALID, ...INVALID]
  const scraps = ['0', '-', '.', ',', '"', '{', '}', '[', ']', 'e9', 'null', 'nan', '\0', '?']
  const names = ['b', 'n', 'u', 't', 'v', 's', 'q', 'c', 'r', 'nb', 'lo', '__proto__', '"x":1,']
  const value = fc.oneof(
    fc.constantFrom('-1', '0', '0.5', '1e10', '4294967295', '4294967296', '"1"', 'true', '[]'),
    fc.constantFrom('null', '{}', '-0', '1780000000', '1780000000000', '12', '"on"', '"Cel"'),
    fc.integer().map(String),
    fc.double({ noNaN: true, noDefaultInfinity: true }).map(String),
  )
  const change = fc.oneof(
    // One number becomes something else: still JSON, maybe still right.
    fc.record({ how: fc.constant('value' as const), at: fc.nat(40), text: value }),
    fc.record({
      how: fc.constantFrom('insert' as const, 'overwrite' as const),
      at: fc.nat(260),
      text: fc.constantFrom(...scraps, ...names),
    }),
    fc.record({ how: fc.constant('cut' as const), at: fc.nat(260), text: fc.constant('') }),
  )
  let accepted = 0
  fc.assert(
    fc.property(
      fc.constantFrom(...all),
      fc.array(change, { minLength: 1, maxLength: 3 }),
      ({ topic, bytes }, changes) => {
        // Latin-1 keeps one character for one byte on the way there and back.
        let text = Buffer.from(bytes).toString('latin1')
        for (const { how, at, text: scrap } of changes) {
          if (how === 'value') {
            const numbers = Array.from(text.matchAll(/-?\d[\d.]*/g))
            const hit = numbers[at % Math.max(1, numbers.length)]
            if (hit === undefined) continue
            text = text.slice(0, hit.index) + scrap + text.slice(hit.index + hit[0].length)
          } else if (how === 'cut') text = text.slice(0, at)
          else if (how === 'insert') text = text.slice(0, at) + scrap + text.slice(at)
          else text = text.slice(0, at) + scrap + text.slice(at + scrap.length)
        }
        const changed = new Uint8Array(Buffer.from(text, 'latin1'))
        const verdict = judge(topic, changed)
        const hub = decode(topic, changed, { strict: true })
        if (verdict === null) accepted++
        expect('problems' in hub ? 'refused' : 'accepted').toBe(
          verdict === null ? 'accepted' : 'refused',
        )
      },
    ),
    { numRuns: 25_000, seed: 20_260_601 },
  )
  // Neither all nor nothing: the changes reach both sides of the border.
  expect(accepted).toBeGreaterThan(1000)
  expect(accepted).toBeLessThan(20_000)
})
