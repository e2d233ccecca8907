import fc from 'fast-check'
import { expect, test } from 'vitest'
import { createIngest, type Arrival } from '#hub/ingest/ingest.ts'
import { decode } from '#hub/wire/payload.ts'
import { memoryGarden, memoryReadings } from '../support/memory-stores.ts'
import { broken } from './from-schema.ts'
import { hostileJson, hostileText, hostileValue } from './hostile.ts'
import { longest, runs } from './size.ts'

/*
 * Whatever stands in a message: it is read, or it is kept aside as it came, with a reason. Nothing is thrown and nothing
 * is lost.
 */

const GOOD: readonly (readonly [string, unknown])[] = [
  [
    'r',
    { b: 12, n: 345, u: 86520, t: 1780000000, f: 1, v: { phmv: 10.6, m1: null }, s: { phmv: 0.3 } },
  ],
  [
    'b',
    {
      b: 12,
      u: 90000,
      c: ['phmv', 'm1'],
      r: [
        [346, 86520, 10.6, 1873],
        [347, 87420, 10.6, null],
      ],
    },
  ],
  ['b', { b: 11, nb: 12, u: 90000, c: ['st'], r: [[1, 60, 18.25]] }],
  ['state', { s: 'sleep', b: 12, u: 90010, nx: 900 }],
  [
    'birth',
    {
      p: 1,
      fw: 'ex 0.3.1',
      hw: 'avr',
      b: 12,
      u: 4,
      iv: 900,
      ch: 'phmv,m1,st',
      cv: 5,
      buf: 96,
      x: 'C+B',
    },
  ],
  ['ch/phmv', { q: 'ph.emf', u: 'mV', lsb: 0.0625, d: 0.15 }],
  ['res', { id: 5, ok: false, e: 'iv' }],
  ['v/ph', 6.82],
]
const leaf = fc.constantFrom(
  'r',
  'b',
  'state',
  'birth',
  'res',
  's',
  'ch/ph',
  'v/m1',
  'v/__proto__',
  'cfg',
)
const topic = fc.oneof(
  { weight: 4, arbitrary: leaf.map((one) => `lm1/fern1/up/${one}`) },
  {
    weight: 1,
    arbitrary: fc.constantFrom('lm1/fern1/dn/ack', 'lm1/hub/state', 'lm1/constructor/up/r', ''),
  },
  { weight: 1, arbitrary: hostileText },
)
const good = fc.constantFrom(...GOOD)
const message = fc.oneof(
  {
    weight: 5,
    arbitrary: good.chain(([to, body]) =>
      broken(body).map((one) => [`lm1/fern1/up/${to}`, hostileJson(one)] as const),
    ),
  },
  {
    weight: 2,
    arbitrary: good.map(([to, body]) => [`lm1/fern1/up/${to}`, hostileJson(body)] as const),
  },
  { weight: 2, arbitrary: fc.tuple(topic, hostileValue.map(hostileJson)) },
  { weight: 2, arbitrary: fc.tuple(topic, hostileText) },
)
const bytes = fc.oneof(
  {
    weight: 8,
    arbitrary: message.map(([to, text]) => [to, new Uint8Array(Buffer.from(text))] as const),
  },
  { weight: 1, arbitrary: fc.tuple(topic, fc.uint8Array({ maxLength: 300 })) },
  {
    weight: 1,
    arbitrary: message.map(
      ([to, text]) => [to, new Uint8Array(Buffer.from(text, 'utf16le'))] as const,
    ),
  },
)

test(
  'decoding never throws: a message, or problems that say what was expected, in few words',
  () => {
    let [read, refused] = [0, 0]
    fc.assert(
      fc.property(bytes, fc.boolean(), ([to, payload], strict) => {
        const found = decode(to, payload, { strict })
        if ('problems' in found) {
          refused++
          expect(found.problems.length).toBeGreaterThan(0)
          for (const one of found.problems) expect(one.message.length).toBeLessThan(12_000)
        } else {
          read++
          expect(({} as { polluted?: unknown }).polluted).toBeUndefined()
        }
      }),
      runs(6000),
    )
    expect(read).toBeGreaterThan(500)
    expect(refused).toBeGreaterThan(1000)
  },
  longest(60_000),
)

test(
  'a message of a probe is stored or kept aside byte by byte; a batch goes through whatever is in it',
  async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(bytes, { minLength: 1, maxLength: 12 }), async (all) => {
        const readings = memoryReadings()
        const garden = memoryGarden()
        const ingest = createIngest({
          readings: readings.port,
          garden: garden.port,
          clock: () => 1_780_000_000_000,
          log: { warn: () => undefined, info: () => undefined },
        })
        const batch: Arrival[] = all.map(([to, payload]) => ({
          topic: to,
          payload,
          retain: false,
          arrivedAt: 1_780_000_000_000,
          mayBeDelayed: false,
        }))
        await ingest.ingest(batch)
        ingest.stop()
        for (const { topic: to, payload } of batch) {
          if (!('problems' in decode(to, payload))) continue
          const kept = readings.quarantined.find(
            (one) =>
              one.topic === to && Buffer.compare(one.payload, payload.subarray(0, 4096)) === 0,
          )
          expect(kept?.reason).toMatch(/./)
        }
        for (const reading of readings.readings.values()) {
          expect(Number.isSafeInteger(reading.at)).toBe(true)
          for (const { value } of reading.values) {
            expect(Number.isNaN(value) || Number.isFinite(value)).toBe(true)
          }
        }
      }),
      runs(350),
    )
  },
  longest(60_000),
)
