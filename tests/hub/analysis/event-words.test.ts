import fc from 'fast-check'
import { expect, test } from 'vitest'
import { eventAdvice, eventGrounds, eventSentence } from '#hub/analysis/event-words.ts'
import { CAUSES, type WatchEvent } from '#hub/analysis/watch/event.ts'

const maybe = (min: number, max: number) =>
  fc.oneof(fc.double({ min, max, noNaN: true }), fc.constant(NaN))

const event: fc.Arbitrary<WatchEvent> = fc.record({
  id: fc.constant('step-1-1-fern1'),
  bedId: fc.constant(1),
  form: fc.constantFrom('step', 'ramp'),
  onset: fc.integer({ min: 1e12, max: 2e12 }),
  noticedAt: fc.integer({ min: 1e12, max: 2e12 }),
  firstCause: fc.constantFrom(...CAUSES),
  cause: fc.constantFrom(...CAUSES),
  decidedAt: fc.oneof(fc.constant(null), fc.integer({ min: 1e12, max: 2e12 })),
  size: fc.double({ min: -3, max: 3, noNaN: true }),
  sizeSe: fc.double({ min: 0.01, max: 1, noNaN: true }),
  present: maybe(-3, 3),
  spots: fc.array(
    fc.record({
      spotId: fc.integer({ min: 1, max: 4 }),
      probe: fc.constant('fern1'),
      before: maybe(4, 8),
      change: maybe(-3, 3),
      moved: fc.boolean(),
    }),
    { maxLength: 4 },
  ),
  evidence: fc.record({
    leastAvailable: maybe(-0.2, 1.2),
    wetting: maybe(0, 1),
    warming: maybe(-20, 20),
    serviceAt: fc.oneof(fc.constant(null), fc.integer({ min: 1e12, max: 2e12 })),
    serviceLogged: fc.boolean(),
    journalId: fc.constantFrom(null, 7, 8),
    withinPlan: fc.constantFrom(null, true, false),
    otherBeds: fc.array(fc.integer({ min: 1, max: 3 }), { maxLength: 2 }),
  }),
  state: fc.constantFrom('open', 'recovered', 'kept'),
  endedAt: fc.constant(null),
})

const names = {
  spots: new Map([
    [1, 'by the gate'],
    [2, 'at the stone'],
  ]),
  beds: new Map([[2, 'Moss bed']]),
  journal: [
    {
      id: 7,
      bedId: 1,
      at: 1_500_000_000_000,
      kind: 'treatment' as const,
      material: 'wood ash',
      amountG: 200,
      waterL: null,
      probe: null,
      ph: null,
      method: null,
      text: '',
    },
  ],
}

test('whatever is known or missing, the words hold together and name no amount to put on', () => {
  fc.assert(
    fc.property(event, (e) => {
      const all = [eventSentence(e, names), ...eventGrounds(e, names), eventAdvice(e)]
      for (const line of all) {
        expect(line).not.toMatch(/NaN|undefined|null|Infinity|\s{2}/)
        expect(line).toMatch(/[.]$/)
      }
      expect(all.join(' ')).not.toMatch(/\d+ ?(g|kg|oz|lb)\b/)
      if (e.decidedAt === null && e.state !== 'recovered') {
        expect(all[0]).toContain('so far it looks like')
      }
    }),
    { numRuns: 500 },
  )
})
