import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { DAY, HOUR } from '#hub/model/clock.ts'
import type { JournalEntry } from '#hub/model/journal.ts'
import type { Plan, PlanStage } from '#hub/model/plan.ts'
import type { BedFacts } from '#hub/planning/bed-facts.ts'
import { type PlannedDay, plannedDays } from '#hub/planning/dates.ts'
import { type Change, factsOf, NOW, sampleOf, treated } from './facts.ts'

function stageOf(dueAt: number, entryId: number | null = null): PlanStage {
  return {
    dueAt,
    amountG: 1500,
    change: { low: 0.25, typical: 0.4, high: 0.6 },
    fullFrom: dueAt + 86 * DAY,
    fullBy: dueAt + 365 * DAY,
    retestsAt: [90, 180, 365].map((days) => dueAt + days * DAY),
    entryId,
  }
}

function planOf(stages: readonly PlanStage[], change: Partial<Plan> = {}): Plan {
  return {
    id: 7,
    bedId: 1,
    createdAt: stages[0]!.dueAt - DAY,
    material: 'ground-limestone',
    strength: 0.9,
    fromPh: 5.5,
    targetPh: 6.5,
    buffering: { low: 290, typical: 390, high: 525 },
    basis: 'By its texture.',
    stages,
    closedAt: null,
    ending: null,
    ...change,
  }
}

const withPlans = (facts: BedFacts, ...plans: readonly Plan[]): BedFacts => ({ ...facts, plans })
const bed = (change: Partial<Change> = {}): BedFacts =>
  factsOf({ season: { from: '01-01', to: '12-31' }, ...change })
const daysOf = (days: readonly PlannedDay[], kind: PlannedDay['kind']): string[] =>
  days.filter((one) => one.kind === kind).map(({ day }) => day)

describe('portions', () => {
  test('lie on their days, each with its own key, the later ones subject to what the first does', () => {
    const plan = planOf([stageOf(NOW + 5 * DAY), stageOf(NOW + 190 * DAY)])
    const days = plannedDays([withPlans(bed(), plan)])
    expect(days.map(({ key, day }) => [key, day])).toEqual([
      ['plan-7-portion-1', '2027-05-17'],
      ['plan-7-portion-2', '2027-11-18'],
    ])
    expect(days[0]!.summary).toBe('Heron Bed: 1.5 kg ground limestone')
    expect(days[0]!.text).not.toContain('made anew')
    expect(days[1]!.text).toContain('made anew')
    for (const { text } of days) {
      expect(text).toContain('Gloves')
      expect(text).toContain('local extension service')
    }
  })

  test('what was due and was not done keeps its day, says since when, and moves what comes after', () => {
    const plan = planOf([stageOf(NOW - 12 * DAY), stageOf(NOW + 171 * DAY)])
    const [late, next] = plannedDays([withPlans(bed(), plan)])
    expect(late!.day).toBe('2027-04-30')
    expect(late!.text).toContain('It has been due since 30 April 2027.')
    // Twelve days late, so are the others.
    expect(next!.day).toBe('2027-11-11')
  })

  test('the portion that comes next has the amount as it stands now', () => {
    const first = stageOf(NOW - 200 * DAY, 1)
    const plan = planOf([first, stageOf(NOW + 3 * DAY)], { targetPh: 6.1 })
    const facts = bed({
      ph: Array.from({ length: 240 }, (_, i) => (i < 40 ? 5.5 : 5.9)),
      bed: { ownBand: { low: 6, high: 7 } },
      journal: [treated('ground limestone', 200, 1500)],
    })
    const treat = plannedDays([withPlans(facts, plan)]).find(({ kind }) => kind === 'treat')!
    const grams = Number(/([\d.]+) (?:kg|g)/.exec(treat.summary)![1])
    expect(treat.summary).toMatch(/ g /)
    expect(grams).toBeLessThan(1000)
  })

  test.each([
    [
      'the bed is inside its band',
      { ph: Array.from({ length: 240 }, (_, i) => (i < 40 ? 5.5 : 6.6)) },
      {},
    ],
    ['the plan is closed', {}, { closedAt: NOW - DAY, ending: 'given up' as const }],
  ])('nothing more goes on when %s', (_, change, of) => {
    const plan = planOf([stageOf(NOW - 200 * DAY, 1), stageOf(NOW + 3 * DAY)], of)
    const facts = bed({ journal: [treated('ground limestone', 200, 1500)], ...change })
    expect(daysOf(plannedDays([withPlans(facts, plan)]), 'treat')).toEqual([])
  })
})

describe('measuring again', () => {
  const plan = planOf([stageOf(NOW - 30 * DAY, 1)])
  const days = (journal: readonly Partial<JournalEntry>[]): string[] =>
    daysOf(plannedDays([withPlans(bed({ journal }), plan)]), 'measure again')

  test('counts from the day the portion really went on', () => {
    expect(days([treated('ground limestone', 30, 1500)])).toEqual([
      '2027-07-11',
      '2027-10-09',
      '2028-04-11',
    ])
    // Ten days later than planned.
    expect(days([treated('ground limestone', 20, 1500)])[0]).toBe('2027-07-21')
  })

  test('is done by a sample near its day or after it, not by one before the portion or soon after', () => {
    const old = planOf([stageOf(NOW - 100 * DAY, 1)])
    const asked = (...samples: readonly Partial<JournalEntry>[]): string[] =>
      daysOf(
        plannedDays([
          withPlans(bed({ journal: [treated('ground limestone', 100, 1500), ...samples] }), old),
        ]),
        'measure again',
      )
    expect(asked()[0]).toBe('2027-05-02')
    expect(asked(sampleOf(5.6, 120))[0]).toBe('2027-05-02')
    expect(asked(sampleOf(5.6, 60))[0]).toBe('2027-05-02')
    expect(asked(sampleOf(5.8, 15))[0]).toBe('2027-07-31')
    expect(asked(sampleOf(5.8, 3))[0]).toBe('2027-07-31')
  })

  test('goes on after the plan has ended', () => {
    const ended = { ...plan, closedAt: NOW - DAY, ending: 'reached' as const }
    const facts = bed({ journal: [treated('ground limestone', 30, 1500)] })
    expect(daysOf(plannedDays([withPlans(facts, ended)]), 'measure again')).toHaveLength(3)
  })

  test('is not asked for ever', () => {
    const old = planOf([stageOf(NOW - 160 * DAY, 1)])
    const facts = bed({ journal: [treated('ground limestone', 160, 1500)] })
    expect(daysOf(plannedDays([withPlans(facts, old)]), 'measure again')[0]).toBe('2027-06-01')
  })
})

describe('the next treatment', () => {
  test('is told about, by the texture, of a bed in its band without a plan that runs', () => {
    // A tenth of a pH of loam is gone in about a year; nobody puts what is five years off into a calendar.
    expect(plannedDays([bed({ ph: 6.8 })])).toEqual([])
    const facts = bed({ ph: 6.4 })
    const [next, ...others] = plannedDays([facts])
    expect(others).toEqual([])
    expect(next).toMatchObject({ key: 'bed-1-next', kind: 'next treatment about', bedId: 1 })
    expect(next!.text).toContain('about')
    expect(plannedDays([bed({ ph: 5.5 })])).toEqual([])
    const running = withPlans(facts, planOf([stageOf(NOW + 5 * DAY)]))
    expect(daysOf(plannedDays([running]), 'next treatment about')).toEqual([])
  })
})

describe('days', () => {
  test.each([
    ['Pacific/Auckland', '2027-01-01'],
    ['Europe/Lisbon', '2026-12-31'],
    ['America/Los_Angeles', '2026-12-31'],
  ])('are those of the garden, over the end of the year too: %s', (zone, day) => {
    const at = Date.UTC(2026, 11, 31, 12)
    const facts = bed({ at, zone, journal: [treated('ground limestone', 90, 1500, at)] })
    const plan = planOf([stageOf(at - 90 * DAY, 1)])
    expect(plannedDays([withPlans(facts, plan)])[0]!.day).toBe(day)
  })

  test('do not slip when the clocks change', () => {
    // 1 March to 1 June with a day of 23 hours between.
    const at = Date.UTC(2027, 2, 1, 23, 30)
    const plan = planOf([{ ...stageOf(at, 1), retestsAt: [Date.UTC(2027, 5, 1, 22, 30)] }])
    const facts = bed({
      at,
      zone: 'Europe/Lisbon',
      journal: [treated('ground limestone', 0, 1500, at)],
    })
    expect(plannedDays([withPlans(facts, plan)])[0]!.day).toBe('2027-06-01')
  })

  test('come in order, whatever the order of the beds, and keys tell them apart', () => {
    const beds = [1, 2, 3].map((id) =>
      withPlans(
        bed({ bed: { id, name: `Bed ${id}` } }),
        planOf([stageOf(NOW + (4 - id) * 9 * DAY + HOUR), stageOf(NOW + 200 * DAY)], {
          id,
          bedId: id,
        }),
      ),
    )
    const expected = plannedDays(beds)
    expect(new Set(expected.map(({ key }) => key)).size).toBe(expected.length)
    expect(expected.map(({ day }) => day)).toEqual(expected.map(({ day }) => day).toSorted())
    fc.assert(
      fc.property(fc.shuffledSubarray(beds, { minLength: 3 }), (shuffled) => {
        expect(plannedDays(shuffled)).toEqual(expected)
      }),
      { numRuns: 6 },
    )
  })

  test('keep their keys as time goes on', () => {
    const plan = planOf([stageOf(NOW - 30 * DAY, 1), stageOf(NOW + 160 * DAY)])
    const keys = (later: number): string[] => {
      const at = NOW + later * DAY
      return plannedDays([
        withPlans(bed({ at, journal: [treated('ground limestone', 30 + later, 1500, at)] }), plan),
      ]).map(({ key }) => key)
    }
    expect(keys(20)).toEqual(keys(0))
  })
})
