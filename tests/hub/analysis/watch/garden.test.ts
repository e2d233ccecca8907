import fc from 'fast-check'
import { expect, test } from 'vitest'
import type { WatchEvent } from '#hub/analysis/watch/event.ts'
import { eventsOf } from '#hub/analysis/watch/events-of.ts'
import { foldBeds } from '#hub/analysis/watch/fold-beds.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import type { WatchState } from '#hub/analysis/watch/watch-state.ts'
import { HOUR } from '#hub/model/clock.ts'
import { BED, START, dayAt, madeBed, step } from './watched-bed.ts'

const DAYS = 40

/** Three beds under one sky: what the water does to the first and second within a day, and a fault of the third. */
function garden() {
  const beds = [
    madeBed({ seed: 21, days: DAYS, added: (_, day) => step(-1.2, 20.1)(day) }),
    madeBed({
      seed: 22,
      days: DAYS,
      added: (_, day) => step(-1.1, 20.6)(day) + step(0.9, 31)(day),
      silent: (_, day) => day > 24 && day < 26.3,
    }),
    madeBed({
      seed: 23,
      days: DAYS,
      spots: 4,
      added: (spot, day) => (spot === 2 ? step(1.4, 20.3)(day) : 0),
      silent: (spot, day) => spot === 0 && day > 10 && day < 12,
    }),
  ]
  return beds.map(({ hours, context }, i) => ({
    hours,
    bed: { ...BED, id: i + 1 },
    context,
  }))
}

function folded(states: readonly WatchState[], to: number, days: unknown[]): void {
  const beds = garden().map(({ hours, bed, context }, i) => ({
    state: states[i]!,
    context: { ...context, bed, others: [] as WatchEvent[] },
    hours,
  }))
  foldBeds(beds, to, { onHour: (bed, _, rows) => days.push(...rows.map((row) => [bed, row])) })
}

const fresh = (): WatchState[] => garden().map(({ bed }) => startWatch(bed, START))
const byBed = (days: unknown[]) =>
  days.toSorted((a, b) => (JSON.stringify(a) < JSON.stringify(b) ? -1 : 1))

test('a garden gone through at once or in pieces knows the same, of itself and of the other beds', () => {
  const once = fresh()
  const days: unknown[] = []
  folded(once, dayAt(DAYS), days)
  const [first, second, third] = once.map((state) => eventsOf(state))
  // By the time the cause is settled, a day later, the second has followed.
  expect(first![0]!.evidence.otherBeds).toEqual([2])
  expect(second![0]!.evidence.otherBeds).toEqual([1])
  expect(second).toHaveLength(2)
  expect(third!.map(({ cause }) => cause)).toEqual(['probe'])
  fc.assert(
    fc.property(
      fc.array(fc.integer({ min: 1, max: DAYS * 24 - 1 }), { minLength: 1, maxLength: 6 }),
      (cuts) => {
        let states = fresh()
        const given: unknown[] = []
        for (const cut of [...cuts.toSorted((a, b) => a - b), DAYS * 24]) {
          folded(states, START + cut * HOUR, given)
          states = structuredClone(states)
        }
        for (const [i, state] of states.entries()) {
          expect(eventsOf(state)).toEqual(eventsOf(once[i]!))
          expect(state).toEqual(once[i])
        }
        expect(byBed(given)).toEqual(byBed(days))
      },
    ),
    { numRuns: 10, seed: 5 },
  )
})
