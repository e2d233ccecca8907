import { expect, test } from 'vitest'
import type { Cause, WatchEvent } from '#hub/analysis/watch/event.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { randomBed } from '#hub/simulator/random-bed.ts'
import { bedOutcome } from './bed-outcome.ts'
import { markOf } from './score-row.ts'
import { SEED_SETS, seedOf } from './seeds.ts'
import type { SeenEvent } from './seen-events.ts'
import { confusion, watchRows } from './watch-rows.ts'

const bed = randomBed(32, { spots: 3, withEvents: true })

function told(seenAt: number, cause: Cause, size = 0.7): SeenEvent {
  const event: WatchEvent = {
    id: `step ${seenAt}`,
    bedId: 1,
    form: 'step',
    onset: seenAt - 3 * HOUR,
    noticedAt: seenAt,
    firstCause: cause,
    cause,
    decidedAt: seenAt + DAY,
    size,
    sizeSe: 0.05,
    present: size,
    spots: [],
    evidence: {
      leastAvailable: 1,
      wetting: 0,
      warming: 0,
      serviceAt: null,
      serviceLogged: false,
      journalId: null,
      withinPlan: null,
      otherBeds: [],
    },
    state: 'open',
    endedAt: null,
  }
  return { seenAt, first: event, settled: event, last: event }
}

const NAMES = { soil: 'soil', probe: 'probe', service: 'service', water: 'water' } as const

/** Everything told in time, by its right name and size. */
const perfect = bed.events.map(({ kind, onset, sizePh }) =>
  told(onset + 3 * HOUR, NAMES[kind as keyof typeof NAMES], sizePh),
)

test('a watch that tells all and nothing else has no fault', () => {
  const outcome = bedOutcome(bed, perfect)
  expect(outcome.happened.every(({ kind, told: one }) => one?.cause === kind)).toBe(true)
  expect(outcome.happened.map(({ delayH }) => delayH)).toEqual(bed.events.map(() => 3))
  expect(outcome.unmatched).toEqual([])
  const quiet = bedOutcome(randomBed(33, { spots: 3 }), [])
  const rows = watchRows([outcome], [quiet]).filter(({ name }) => !name.startsWith('dry contact'))
  expect(rows.filter((row) => markOf(row) === 'MISSED')).toEqual([])
})

test('silence is missed, a wrong name is no recall, a false label costs precision', () => {
  expect(bedOutcome(bed, []).happened.every((one) => one.told === null)).toBe(true)
  const soil = bed.events.findIndex(({ kind }) => kind === 'soil')
  const misnamed = perfect.map((one, i) => (i === soil ? told(one.seenAt, 'water') : one))
  const value = (outcome: ReturnType<typeof bedOutcome>, name: string): number =>
    watchRows([outcome], []).find((row) => row.name === name)!.value
  expect(value(bedOutcome(bed, misnamed), 'soil: recall')).toBeCloseTo(2 / 3, 9)
  expect(value(bedOutcome(bed, misnamed), 'water: precision')).toBeCloseTo(3 / 4, 9)
  const wet = bed.spots.flatMap(({ drySpells }) => drySpells)
  const calm = bed.startMs + 15 * DAY
  expect(wet.every(({ from, to }) => calm < from - 4 * DAY || calm > to + 2 * DAY)).toBe(true)
  const tooMuch = bedOutcome(bed, [told(calm, 'probe'), ...perfect])
  expect(tooMuch.unmatched).toHaveLength(1)
  expect(value(tooMuch, 'probe: precision')).toBeCloseTo(3 / 4, 9)
})

test('what is told four days late does not answer; what follows soon is the same event', () => {
  const soil = bed.events.find(({ kind }) => kind === 'soil')!
  const late = bedOutcome(bed, [told(soil.onset + 97 * HOUR, 'soil')])
  expect(late.happened.find(({ onset }) => onset === soil.onset)!.told).toBeNull()
  expect(late.unmatched[0]?.aftermath ?? true).toBe(true)
  const twice = bedOutcome(bed, [
    told(soil.onset + 3 * HOUR, 'soil'),
    told(soil.onset + 30 * HOUR, 'probe'),
  ])
  expect(twice.happened.find(({ onset }) => onset === soil.onset)!.told?.cause).toBe('soil')
  expect(twice.unmatched).toEqual([])
})

test('a service told after a visit that did happen is no false label', () => {
  const routine = bed.visits.find(({ stepPh }) => stepPh === 0)!
  const outcome = bedOutcome(bed, [told(routine.at + 20 * HOUR, 'service')])
  expect(outcome.afterVisit).toBe(1)
  expect(outcome.unmatched).toEqual([])
  expect(confusion([outcome]).counts.get('routine visit')?.get('service')).toBe(1)
})

test('no two cases of tuning and scoring share a seed', () => {
  const seen = new Set<number>()
  let count = 0
  for (const set of Object.keys(SEED_SETS) as (keyof typeof SEED_SETS)[]) {
    for (const part of ['eventful', 'quiet', 'noise', 'forecast'] as const) {
      for (const cell of [0, 1, 99]) {
        for (const run of [0, 1, 9999]) {
          seen.add(seedOf(set, part, cell, run))
          count++
        }
      }
    }
  }
  expect(seen.size).toBe(count)
  expect(() => seedOf('tuning', 'quiet', 0, 10_000)).toThrow('would meet')
})
