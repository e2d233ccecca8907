import fc from 'fast-check'
import { expect, test } from 'vitest'
import { topicText } from '#hub/ingest/topic-text.ts'

test('the text of a topic is that of its bytes, whatever came before it', () => {
  const topic = fc.oneof(
    fc.integer({ min: 0, max: 50_000 }).map((n) => Buffer.from(`lm1/bed${n}/up/r`)),
    fc
      .constantFrom('lm1/grün/up/r', 'lm1/gr\u00fcn', '\u00ff', '\ufffd')
      .map((text) => Buffer.from(text)),
    fc.uint8Array({ maxLength: 60 }).map((bytes) => Buffer.from(bytes)),
  )
  fc.assert(
    fc.property(fc.array(topic, { minLength: 1, maxLength: 30 }), fc.nat(5), (topics, gap) => {
      const space = Buffer.alloc(gap, 0x61)
      const bytes = Buffer.concat([space, ...topics, space])
      for (let round = 0; round < 2; round++) {
        let from = gap
        for (const one of topics) {
          expect(topicText(bytes, from, from + one.length)).toBe(one.toString('utf8'))
          from += one.length
        }
      }
    }),
    { numRuns: 500 },
  )
})
