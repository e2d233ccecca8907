import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import type { DoseEffect, HalfLife } from '#hub/analysis/amendment/dose-effect.ts'
import type { DoseAnswers } from '#hub/analysis/amendment/amendment-answers.ts'
import { DAY } from '#hub/model/clock.ts'
import type { Plan } from '#hub/model/plan.ts'
import type { BedFacts } from '#hub/planning/bed-facts.ts'
import { reviewBed } from '#hub/planning/review.ts'
import { type Change, effectOf, eventOf, factsOf, NOW, treated } from './facts.ts'

const YEAR = 365.25
const DAYS_AGO = 42 * 7
const AT = NOW - DAYS_AGO * DAY

/** Ground limestone that has stood at +0.5 (0.4 to 0.6) from its first week on. */
function effect(change: Partial<DoseEffect> = {}): DoseEffect {
  const weeks = DAYS_AGO / 7 + 2
  const column = (height: number): Float64Array =>
    Float64Array.from({ length: weeks }, (_, i) => (i < 2 ? 0 : height))
  return {
    ...effectOf(1, AT, 'ground limestone', { value: 0.5, low: 0.4, high: 0.6 }),
    onsetDays: { value: 20, low: 5, high: 40 },
    curve: {
      time: Float64Array.from({ length: weeks }, (_, i) => AT + (i - 1) * 7 * DAY),
      value: column(0.5),
      low: column(0.4),
      high: column(0.6),
    },
    sentence: 'Ground limestone raised the pH by 0.50 (0.40 to 0.60).',
    ...change,
  }
}

const answersOf = (answers: readonly DoseEffect[], material = 'ground limestone'): DoseAnswers => ({
  id: answers[0]?.ids[0] ?? 1,
  at: answers[0]?.at ?? AT,
  material,
  answers,
})

function bedOf(effects: readonly DoseAnswers[], change: Partial<Change> = {}): BedFacts {
  return factsOf({
    ph: 6.6,
    journal: [treated('ground limestone', DAYS_AGO, 2000)],
    study: { effects },
    ...change,
  })
}

const priced = (facts: BedFacts, perKg: number): BedFacts => ({
  ...facts,
  settings: {
    ...facts.settings,
    currency: 'EUR',
    prices: [{ material: 'ground-limestone', perKg }],
  },
})

describe('a treatment looked back on', () => {
  test('pH months and what one has cost, worked out by hand', () => {
    // Half a week of ramp, then 41 weeks at the height: 41.5 * 7 / 30.4375 months.
    const months = ((DAYS_AGO / 7 - 0.5) * 7) / 30.4375
    const [one] = reviewBed(priced(bedOf([answersOf([effect()])]), 0.8)).treatments
    expect(one!.phMonths!.value).toBeCloseTo(0.5 * months, 6)
    expect(one!.phMonths!.low).toBeCloseTo(0.4 * months, 6)
    expect(one!.phMonths!.high).toBeCloseTo(0.6 * months, 6)
    // 2 kg at 0.80.
    expect(one!.cost!.value).toBeCloseTo(1.6 / (0.5 * months), 6)
    expect(one!.cost!.low).toBeCloseTo(1.6 / (0.6 * months), 6)
    expect(one!.cost!.high).toBeCloseTo(1.6 / (0.4 * months), 6)
    expect(one!.cost!.currency).toBe('EUR')
    expect(one).toMatchObject({ entryIds: [1], amountG: 2000, worked: 'yes' })
    expect(one!.sentence).toContain('It began about 20 days after (5 to 40).')
    expect(one!.sentence).toContain('pH months')
    expect(one!.sentence).toContain('EUR')
  })

  test('an interval that reaches zero leaves the cost open', () => {
    const base = effect()
    const curve = { ...base.curve!, low: base.curve!.low.map((v) => (v > 0 ? -0.1 : 0)) }
    const [one] = reviewBed(priced(bedOf([answersOf([{ ...base, curve }])]), 0.8)).treatments
    expect(one!.phMonths!.low).toBeLessThan(0)
    expect(one!.cost!.high).toBeNull()
    expect(one!.cost!.low).toBeGreaterThan(0)
    expect(one!.sentence).toContain('or much more')
  })

  test.each([
    ['no price', (f: BedFacts) => f],
    [
      'no currency',
      (f: BedFacts) => ({
        ...priced(f, 1),
        settings: { ...priced(f, 1).settings, currency: null },
      }),
    ],
    [
      'no amount',
      (f: BedFacts) =>
        priced({ ...f, journal: f.journal.map((e) => ({ ...e, amountG: null })) }, 1),
    ],
  ])('no cost where there is %s', (_, change) => {
    const [one] = reviewBed(change(bedOf([answersOf([effect()])]))).treatments
    expect(one!.cost).toBeNull()
    expect(one!.phMonths).not.toBeNull()
  })

  test('the advantage over untreated comes first, unless it could not be answered', () => {
    const alone = effect()
    const held: DoseEffect = { ...effect(), question: 'advantage over untreated' }
    const early: DoseEffect = { ...held, verdict: 'insufficient', peak: null, curve: null }
    const questionOf = (answers: readonly DoseEffect[]) =>
      reviewBed(bedOf([answersOf(answers)])).treatments[0]!.question
    expect(questionOf([held, alone])).toBe('advantage over untreated')
    expect(questionOf([early, alone])).toBe('above where it was')
    expect(questionOf([early])).toBe('advantage over untreated')
  })

  test('portions that belong together are one row with what all of them weighed', () => {
    const group = effect({ ids: [1, 2] })
    const facts = bedOf([answersOf([group]), { ...answersOf([group]), id: 2, at: AT + 7 * DAY }], {
      journal: [
        treated('ground limestone', DAYS_AGO, 2000),
        treated('ground limestone', DAYS_AGO - 7, 500),
      ],
    })
    const { treatments } = reviewBed(facts)
    expect(treatments).toHaveLength(1)
    expect(treatments[0]).toMatchObject({ entryIds: [1, 2], amountG: 2500 })
  })

  const NOTHING: Partial<DoseEffect> = { verdict: 'no measurable effect', onsetDays: null }
  test.each([
    ['raised by lime', 'ground limestone', {}, 'yes'],
    ['lowered by lime', 'ground limestone', { peak: { value: -0.5, low: -0.6, high: -0.4 } }, 'no'],
    ['lowered by sulfur', 'sulfur', { peak: { value: -0.5, low: -0.6, high: -0.4 } }, 'yes'],
    [
      'nothing, and little could hide',
      'ground limestone',
      { ...NOTHING, notLargerThan: 0.2 },
      'no',
    ],
    [
      'nothing, but much could hide',
      'ground limestone',
      { ...NOTHING, notLargerThan: 0.6 },
      'not known',
    ],
    ['too early', 'ground limestone', { verdict: 'insufficient' }, 'not known'],
    ['gypsum that did nothing', 'gypsum', { ...NOTHING, notLargerThan: 0.1 }, 'not known'],
    ['compost that raised it', 'compost', {}, 'not known'],
    ['something nobody knows', 'moon dust', {}, 'not known'],
  ] as const)('%s', (_, material, change, worked) => {
    const one = effect({ material, ...(change as Partial<DoseEffect>) })
    const facts = bedOf([answersOf([one], material)], {
      journal: [treated(material, DAYS_AGO, 2000)],
    })
    expect(reviewBed(facts).treatments[0]!.worked).toBe(worked)
  })

  test('what leaves pH alone is told as such', () => {
    const gypsum = effect({
      material: 'gypsum',
      ...NOTHING,
      notLargerThan: 0.1,
      sentence: 'Nothing.',
    })
    const facts = bedOf([answersOf([gypsum], 'gypsum')], {
      journal: [treated('gypsum', DAYS_AGO, 500)],
    })
    expect(reviewBed(facts).treatments[0]!.sentence).toMatch(/^Gypsum: .*does not move pH/)
  })

  test('before the bed was gone through, the journal alone is told', () => {
    const facts = factsOf({
      unstudied: true,
      journal: [treated('sulfur', 10, 200), treated('gypsum', 5, 100)],
    })
    const { treatments, sentence } = reviewBed(facts)
    expect(treatments.map(({ worked, effect: seen }) => [worked, seen])).toEqual([
      ['not known', null],
      ['not known', null],
    ])
    expect(treatments[0]!.sentence).toBe('Sulfur: nothing can be said of it yet.')
    expect(sentence).toBe(
      'Heron Bed: 2 treatments; 1 is known to leave pH alone, whether 1 worked cannot be said.',
    )
  })

  test('the order of the journal does not matter', () => {
    const journal = [
      treated('ground limestone', DAYS_AGO, 2000),
      treated('sulfur', 90, 100),
      treated('gypsum', 30, 50),
    ].map((entry, i) => ({ ...entry, id: i + 1 }))
    const expected = reviewBed(bedOf([answersOf([effect()])], { journal }))
    fc.assert(
      fc.property(fc.shuffledSubarray(journal, { minLength: 3 }), (shuffled) => {
        expect(reviewBed(bedOf([answersOf([effect()])], { journal: shuffled }))).toEqual(expected)
      }),
      { numRuns: 10 },
    )
  })
})

const known = (value: number, low: number, high: number): HalfLife => ({
  kind: 'known',
  days: { value, low, high },
  early: false,
})

describe('the next treatment', () => {
  const outlook = (leaves: { median: number | null; earliest: number; latest: number | null }) => ({
    forecast: {
      status: 'ok' as const,
      time: new Float64Array(0),
      fan: [0, 0, 0, 0, 0].map(() => new Float64Array(0)) as never,
      now: 'inside' as const,
      leaves: { edge: 'low' as const, ...leaves },
      chances: [],
      season: false,
    },
  })

  test('is due when the outlook says so', () => {
    const dates = { median: NOW + 60 * DAY, earliest: NOW + 20 * DAY, latest: null }
    const { nextDue, nextSentence } = reviewBed(bedOf([], { study: outlook(dates) }))
    expect(nextDue).toEqual({ typical: dates.median, earliest: dates.earliest, latest: null })
    expect(nextSentence).toBe(
      'Heron Bed: next treatment due about July 2027, not before June 2027, by how the bed has gone lately. Measure before it.',
    )
  })

  test('is due when half-life after half-life the effect comes down to the near edge', () => {
    // At 6.6 with +0.4 left: it goes back to 6.2, and is at 6.3 when a quarter is left, after two half-lives.
    const worn = effect({
      present: { value: 0.4, low: 0.3, high: 0.5 },
      halfLife: known(200, 150, 300),
    })
    const { nextDue } = reviewBed(bedOf([answersOf([worn])]))
    expect((nextDue!.typical! - NOW) / DAY).toBeCloseTo(400, 6)
    expect((nextDue!.earliest! - NOW) / DAY).toBeCloseTo(300, 6)
    expect((nextDue!.latest! - NOW) / DAY).toBeCloseTo(600, 6)
  })

  test('by its texture where no effect tells: lime lost over lime for one pH', () => {
    // Bolton 1977: 22.5 to 85.2 g/m2 a year, geometric mean 43.8; loam: 391 g/m2 for one pH; 0.3 pH to go.
    const { nextDue, nextSentence } = reviewBed(bedOf([]))
    const years = (lost: number): number => (0.3 * 391) / lost
    expect((nextDue!.typical! - NOW) / DAY / YEAR).toBeCloseTo(years(43.78), 1)
    expect((nextDue!.earliest! - NOW) / DAY / YEAR).toBeCloseTo(years(85.2), 1)
    expect((nextDue!.latest! - NOW) / DAY / YEAR).toBeCloseTo(years(22.5), 1)
    expect(nextSentence).toContain('about')
    expect(nextSentence).toContain('a rough guide')
  })

  test('an effect that stays at least so long keeps it from being due before', () => {
    const steady = effect({
      present: { value: 0.4, low: 0.3, high: 0.5 },
      halfLife: { kind: 'at least', days: 900 },
    })
    const { nextDue } = reviewBed(bedOf([answersOf([steady])]))
    expect((nextDue!.earliest! - NOW) / DAY).toBeCloseTo(1800, 6)
    expect(nextDue!.typical!).toBeGreaterThanOrEqual(nextDue!.earliest!)
    expect(nextDue!.latest!).toBeGreaterThanOrEqual(nextDue!.typical!)
  })

  test.each([
    ['outside its band', { ph: 5.5 }, 'outside its band 6.3 to 7.0 already'],
    ['without a band', { bed: { ownBand: null } }, 'has no band'],
    ['not gone through', { unstudied: true }, 'too few recent days'],
    ['of a mix no table covers', { bed: { texture: 'raised-bed mix' as const } }, 'cannot be said'],
  ])('cannot be told of a bed %s', (_, change, words) => {
    const { nextDue, nextSentence } = reviewBed(bedOf([], change))
    expect(nextDue).toBeNull()
    expect(nextSentence).toContain(words)
  })

  test('is not foretold while a sudden change is not settled', () => {
    const watch = { ...factsOf().assessment!.watch, events: [eventOf()] }
    const { nextDue, nextSentence } = reviewBed(bedOf([], { assessment: { watch } }))
    expect(nextDue).toBeNull()
    expect(nextSentence).toContain('cannot be said before that is settled')
  })

  test('is the plan that runs, unless that has to end', () => {
    const dueAt = NOW + 20 * DAY
    const plan: Plan = {
      id: 1,
      bedId: 1,
      createdAt: NOW - DAY,
      material: 'ground-limestone',
      strength: 0.9,
      fromPh: 5.5,
      targetPh: 6.5,
      buffering: { low: 293, typical: 391, high: 525 },
      basis: 'By its texture.',
      stages: [
        {
          dueAt,
          amountG: 1600,
          change: { low: 0.3, typical: 0.4, high: 0.6 },
          fullFrom: dueAt + 86 * DAY,
          fullBy: dueAt + 365 * DAY,
          retestsAt: [dueAt + 90 * DAY],
          entryId: null,
        },
      ],
      closedAt: null,
      ending: null,
    }
    const said = (change: Partial<Change>): string =>
      reviewBed({ ...factsOf({ ph: 5.5, ...change }), plans: [plan] }).nextSentence
    expect(said({})).toContain('still: go on with its plan')
    expect(said({ bed: { ownBand: { low: 4.4, high: 5.1 } } })).toContain('its plan has to end')
  })
})
