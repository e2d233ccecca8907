import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { dosingOf } from '#hub/agronomy/dosing.ts'
import { DAY } from '#hub/model/clock.ts'
import type { Plan } from '#hub/model/plan.ts'
import type { BedFacts } from '#hub/planning/bed-facts.ts'
import { followPlan } from '#hub/planning/follow.ts'
import { learnedResponse } from '#hub/planning/follow/learned-response.ts'
import { predictedChange } from '#hub/planning/follow/predicted-change.ts'
import { predictedShare } from '#hub/planning/predict.ts'
import { roundedDown } from '#hub/planning/portions.ts'
import { type Change, eventOf, factsOf, NOW, sampleOf, treated } from './facts.ts'

const limestone = dosingOf('ground-limestone')!
const BEFORE_DAYS = 40

const stage = (dueAt: number, entryId: number | null) => ({
  dueAt,
  amountG: 1600,
  change: { low: 0.28, typical: 0.4, high: 0.6 },
  fullFrom: dueAt + 86 * DAY,
  fullBy: dueAt + 365 * DAY,
  retestsAt: [90, 180, 365].map((days) => dueAt + days * DAY),
  entryId,
})

/** Two portions of limestone on the Heron Bed, pH 5.5 to 6.4: the first one so many days ago. */
function planOf(daysAgo: number | null, change: Partial<Plan> = {}): Plan {
  const firstAt = NOW - (daysAgo ?? 0) * DAY
  return {
    id: 1,
    bedId: 1,
    createdAt: firstAt - DAY,
    material: 'ground-limestone',
    strength: 0.9,
    fromPh: 5.5,
    targetPh: 6.4,
    buffering: { low: 290, typical: 390, high: 525 },
    basis: 'By its texture.',
    stages: [stage(firstAt, daysAgo === null ? null : 1), stage(firstAt + 183 * DAY, null)],
    closedAt: null,
    ending: null,
    ...change,
  }
}

/** The bed at 5.5, and after the portion as `rise` of the days since says. */
function bedOf(
  daysAgo: number,
  rise: (days: number) => number,
  change: Partial<Change> = {},
): BedFacts {
  return factsOf({
    ph: Array.from({ length: BEFORE_DAYS + daysAgo }, (_, i) => {
      const days = i - BEFORE_DAYS
      return 5.5 + (days > 0 ? rise(days) : 0) + 0.02 * Math.sin(i)
    }),
    journal: [treated('ground limestone', daysAgo, 1600)],
    ...change,
  })
}
/** The same beside an untreated bed that did not move. */
function besideUntreated(facts: BedFacts): BedFacts {
  const study = facts.study!
  const series = { ...study.days.bed, value: study.days.bed.value.map(() => 6.1) }
  return {
    ...facts,
    study: {
      ...study,
      control: { status: 'ok', series, bedIds: [2], beds: ['Otter Bed'], reason: '' },
    },
  }
}
const times =
  (factor: number) =>
  (days: number): number =>
    factor * asPlanned(days)
const asPlanned = (days: number): number => 0.4 * predictedShare(limestone, days).typical

describe('a plan', () => {
  test('of which nothing is on says what comes first', () => {
    const follow = followPlan(factsOf(), planOf(null))
    expect(follow).toMatchObject({
      verdict: 'not begun',
      measured: null,
      predicted: null,
      course: null,
      stop: null,
      next: { stage: 0, amountG: 1600 },
    })
    expect(follow.sentence).toMatch(
      /^Nothing has been put on yet\. Put on 1\.6 kg of ground limestone/,
    )
  })

  test.each([
    ['a week after', 8, asPlanned, 'too early', null],
    ['that goes as predicted', 150, asPlanned, 'as expected', null],
    ['that goes twice as far, which lies within the doubt', 150, times(1.8), 'as expected', null],
    ['that goes much further', 150, times(2.4), 'more than expected', 'stopped'],
    ['that ran ahead of everything', 14, () => 0.5, 'more than expected', 'stopped'],
    ['that does next to nothing', 200, times(0.1), 'less than expected', null],
    ['that does nothing by twice the onset', 260, times(-0.1), 'no response', null],
    ['that does as little before twice the onset', 230, times(-0.1), 'less than expected', null],
    ['that went the wrong way', 260, times(-0.4), 'no response', null],
  ] as const)('%s', (_, days, rise, verdict, stop) => {
    const follow = followPlan(besideUntreated(bedOf(days, rise)), planOf(days))
    expect(follow.verdict).toBe(verdict)
    expect(follow.stop).toBe(stop)
    expect(follow.measured!.typical).toBeCloseTo(rise(days - 7), 1)
    expect(follow.predicted!.typical).toBeCloseTo(asPlanned(days), 5)
    expect(follow.causes.length > 0).toBe(
      verdict === 'no response' || verdict === 'more than expected',
    )
    if (verdict === 'no response') expect(follow.next).toBeNull()
  })

  test('without days before its first portion cannot be judged', () => {
    const facts = factsOf({
      ph: Array.from({ length: 60 }, () => 5.9),
      journal: [treated('ground limestone', 100, 1600)],
    })
    const follow = followPlan(facts, planOf(100))
    expect(follow.verdict).toBe('cannot tell')
    expect(follow.sentence).toContain('too few valid days before the first portion')
    expect(follow.course!.typical[0]).toBeCloseTo(5.5)
  })

  test('ends once the bed is inside its band', () => {
    const follow = followPlan(
      bedOf(200, (d) => 0.85 * (1 - Math.exp(-d / 40)), {
        bed: { ownBand: { low: 6.2, high: 7 } },
      }),
      planOf(200, {
        stages: [{ ...stage(NOW - 200 * DAY, 1), change: { low: 0.6, typical: 0.8, high: 1 } }],
      }),
    )
    expect(follow.stop).toBe('reached')
    expect(follow.next).toBeNull()
    expect(follow.sentence).toContain('inside its band: put nothing more on')
  })

  test('that is closed has nothing to stop and nothing next', () => {
    const follow = followPlan(
      bedOf(150, asPlanned),
      planOf(150, { closedAt: NOW - DAY, ending: 'given up' }),
    )
    expect(follow.next).toBeNull()
    expect(follow.stop).toBeNull()
    expect(follow.sentence).toContain('The plan ended on 11 May 2027.')
  })

  test('an untreated bed takes the season out', () => {
    const days = 150
    const season = (i: number): number => 0.25 * Math.sin((2 * Math.PI * i) / 300)
    const all = bedOf(days, asPlanned)
    const own = all.study!.days.bed
    const series = (add: (i: number) => number, base: (i: number) => number) => ({
      ...own,
      value: own.value.map((v, i) => base(v) + add(i)),
    })
    const facts: BedFacts = {
      ...all,
      study: {
        ...all.study!,
        days: { ...all.study!.days, bed: series(season, (v) => v) },
        control: {
          status: 'ok',
          series: series(season, () => 6.1),
          bedIds: [2],
          beds: ['Otter Bed'],
          reason: '',
        },
      },
    }
    const alone = followPlan({ ...facts, study: { ...facts.study!, control: null } }, planOf(days))
    const held = followPlan(facts, planOf(days))
    const truth = asPlanned(days - 7)
    expect(Math.abs(held.measured!.typical - truth)).toBeLessThan(0.05)
    expect(Math.abs(alone.measured!.typical - truth)).toBeGreaterThan(0.08)
    expect(held.measured!.high - held.measured!.low).toBeLessThan(
      alone.measured!.high - alone.measured!.low,
    )
    expect(held.grounds.join(' ')).toContain('Held against Otter Bed')
  })

  test('alone, half a year after, a season may hide a good deal of it; a year after it is back', () => {
    const widthAfter = (days: number): number => {
      const { high, low } = followPlan(bedOf(days, asPlanned), planOf(days)).measured!
      return high - low
    }
    expect(widthAfter(183)).toBeGreaterThan(2 * widthAfter(380))
    expect(widthAfter(380)).toBeLessThan(0.35)
  })

  test('alone, but with two years known before it, the season of the bed is taken out', () => {
    const known = 740
    const season = (i: number): number => 0.3 * Math.sin((2 * Math.PI * i) / 365.25)
    const wander = (i: number): number => 0.03 * Math.sin(i * 1.7) * Math.cos(i / 23)
    const follow = followPlan(
      factsOf({
        ph: Array.from({ length: known + 180 }, (_, i) => {
          const days = i - known
          return 5.5 + season(i) + wander(i) + (days > 0 ? asPlanned(days) : 0)
        }),
        journal: [treated('ground limestone', 180, 1600)],
      }),
      planOf(180),
    )
    const { low, typical, high } = follow.measured!
    expect(Math.abs(typical - asPlanned(173))).toBeLessThan(0.1)
    expect(high - low).toBeLessThan(0.35)
    expect(follow.grounds.join(' ')).toContain('with the season of this bed taken out')
  })

  test('shows the levels and samples before and after each portion', () => {
    const facts = bedOf(150, asPlanned, {
      journal: [
        treated('ground limestone', 150, 1600),
        sampleOf(5.6, 160),
        sampleOf(5.1, 300),
        sampleOf(5.9, 20),
      ],
    })
    const [first, second] = followPlan(facts, planOf(150)).stages
    expect(first!.before!.ph!.value).toBeCloseTo(5.5, 1)
    expect(first!.before!.samples.map(({ ph }) => ph)).toEqual([5.6])
    expect(first!.after!.ph!.value).toBeCloseTo(5.5 + asPlanned(120), 1)
    expect(first!.after!.samples.map(({ ph }) => ph)).toEqual([5.9])
    expect(second).toEqual({ entry: null, before: null, after: null })
  })

  test('is predicted in proportion to what was really put on', () => {
    const portion = (amountG: number) => [{ stage: stage(0, 1), at: 0, amountG }]
    const planned = predictedChange(portion(1600), limestone, 100 * DAY)
    const double = predictedChange(portion(3200), limestone, 100 * DAY)
    for (const key of ['low', 'typical', 'high'] as const) {
      expect(double[key]).toBeCloseTo(2 * planned[key], 10)
    }
  })
})

test('a bed that has gone past its aim is stopped and told so', () => {
  const follow = followPlan(
    besideUntreated(bedOf(150, (d) => 1.2 * (1 - Math.exp(-d / 30)))),
    planOf(150, {
      stages: [{ ...stage(NOW - 150 * DAY, 1), change: { low: 1, typical: 1.2, high: 1.4 } }],
    }),
  )
  expect(follow.verdict).toBe('more than expected')
  expect(follow.stop).toBe('stopped')
  expect(follow.sentence).toContain('It has gone past pH 6.4, where it should have come to rest')
})

test('the course counts with portions to come only while one comes', () => {
  const going = followPlan(bedOf(190, asPlanned), planOf(190))
  const closed = followPlan(
    bedOf(190, asPlanned),
    planOf(190, { closedAt: NOW, ending: 'given up' }),
  )
  const highest = ({ course }: typeof going): number => Math.max(...course!.typical)
  expect(going.next).not.toBeNull()
  expect(highest(going)).toBeGreaterThan(highest(closed) + 0.2)
  expect(closed.course!.time[0]).toBe(NOW - 190 * DAY)
  for (const [i, typical] of going.course!.typical.entries()) {
    expect(going.course!.low[i]!).toBeLessThanOrEqual(typical)
    expect(typical).toBeLessThanOrEqual(going.course!.high[i]!)
  }
})

test('portions count in the order they went on, not in that of the plan', () => {
  const facts = bedOf(150, asPlanned, {
    journal: [treated('ground limestone', 150, 1600), treated('ground limestone', 20, 1600)],
  })
  const firstAt = NOW - 150 * DAY
  // The portions were written to each other's place.
  const swapped = planOf(150, { stages: [stage(firstAt, 2), stage(firstAt + 130 * DAY, 1)] })
  const straight = planOf(150, { stages: [stage(firstAt, 1), stage(firstAt + 130 * DAY, 2)] })
  const [a, b] = [followPlan(facts, swapped), followPlan(facts, straight)]
  expect(a.measured).toEqual(b.measured)
  expect(a.predicted).toEqual(b.predicted)
  expect(a.stages[1]!.after!.to).toBe(NOW - 20 * DAY)
})

test('what else went on is told, and how strongly the bed answers', () => {
  const facts = bedOf(150, asPlanned, {
    journal: [treated('ground limestone', 150, 1600), treated('wood ash', 60, 300)],
  })
  const said = followPlan(facts, planOf(150)).grounds.join(' ')
  expect(said).toContain('Also at work, and part of what was measured: wood ash of 13 March 2027.')
  expect(said).toMatch(/answers 1\.0 times as strongly as planned/)
})

test('the order of the journal changes nothing', () => {
  const journal = [
    { ...treated('ground limestone', 150, 1600), id: 1 },
    { ...sampleOf(5.6, 160), id: 2 },
    { ...sampleOf(5.9, 20), id: 3 },
    { ...treated('gypsum', 90, 300), id: 4 },
  ]
  const expected = followPlan(bedOf(150, asPlanned, { journal }), planOf(150))
  fc.assert(
    fc.property(fc.shuffledSubarray(journal, { minLength: 4 }), (shuffled) => {
      const follow = followPlan(bedOf(150, asPlanned, { journal: shuffled }), planOf(150))
      expect({ ...follow, stages: [] }).toEqual({ ...expected, stages: [] })
    }),
    { numRuns: 10 },
  )
})

test('more put on is predicted to do more in proportion, and is what the bed is held against', () => {
  fc.assert(
    fc.property(fc.integer({ min: 200, max: 4000 }), (amountG) => {
      const put = (grams: number) =>
        followPlan(
          bedOf(150, asPlanned, { journal: [treated('ground limestone', 150, grams)] }),
          planOf(150),
        )
      const planned = put(1600)
      const other = put(amountG)
      expect(other.predicted!.typical).toBeCloseTo(
        (planned.predicted!.typical * amountG) / 1600,
        10,
      )
      // Twice as much on for the same change: the bed answers less strongly.
      expect(Math.sign(other.answers!.typical - planned.answers!.typical)).toBe(
        Math.sign(1600 - amountG),
      )
    }),
    { numRuns: 20 },
  )
})

test('nothing more is offered while a sudden change of the bed is not settled', () => {
  const calm = bedOf(190, asPlanned)
  const watch = { ...calm.assessment!.watch, events: [eventOf({ present: -0.9, size: -0.9 })] }
  const shaken = { ...calm, assessment: { ...calm.assessment!, watch } }
  expect(followPlan(calm, planOf(190)).next).not.toBeNull()
  const { next, sentence } = followPlan(shaken, planOf(190))
  expect(next).toBeNull()
  expect(sentence).toContain('changed suddenly')
  expect(sentence).toContain('Put nothing on it until then.')
})

describe('the next portion', () => {
  const sulfurPlan = (dueAt: number): Plan =>
    planOf(null, {
      material: 'sulfur',
      strength: 2.8,
      fromPh: 7,
      targetPh: 6,
      stages: [
        { ...stage(dueAt, null), amountG: 300, change: { low: -0.28, typical: -0.4, high: -0.6 } },
      ],
    })

  test('of sulfur waits for warm soil, by what the soil did a year ago', () => {
    // Cold now, and a year ago until 45 days after this day.
    const cold = (before: number): number => (before < 10 || before > 320 ? 6 : 13)
    const facts = factsOf({ ph: 7, bed: { ownBand: { low: 5.5, high: 6.2 } }, soilC: cold })
    const { next } = followPlan(facts, sulfurPlan(NOW - 3 * DAY))
    expect(Math.abs(next!.dueAt - (NOW + 45 * DAY))).toBeLessThan(4 * DAY)
    const warm = followPlan(
      {
        ...facts,
        ...factsOf({ ph: 7, bed: { ownBand: { low: 5.5, high: 6.2 } }, soilC: () => 14 }),
      },
      sulfurPlan(NOW - 3 * DAY),
    )
    expect(warm.next!.dueAt).toBe(NOW - 3 * DAY)
    expect(warm.next!.sentence).toContain('it has been due since 9 May 2027')
  })

  test('out of season waits for it, even when it was due long ago', () => {
    const facts = factsOf({ season: { from: '08-01', to: '10-31' } })
    const { next } = followPlan(facts, planOf(null))
    expect(next!.dueAt).toBe(Date.UTC(2027, 7, 1) - 3_600_000)
    expect(next!.sentence).toContain('from 1 August 2027 on')
  })

  test('tells what it does by what the bed did so far', () => {
    const change = (factor: number) =>
      followPlan(besideUntreated(bedOf(190, times(factor))), planOf(190, { targetPh: 6.8 })).next!
    const [weak, usual] = [change(0.6), change(1)]
    const perKg = ({ change: { typical }, amountG }: typeof weak) => typical / amountG
    expect(perKg(weak)).toBeLessThan(perKg(usual))
    expect(perKg(usual)).toBeCloseTo(0.4 / 1600, 5)
    expect(usual.change.low).toBeLessThan(usual.change.typical)
    expect(usual.change.high).toBeGreaterThan(usual.change.typical)
    // Narrower than before the first portion had shown anything, but for what one soil differs from the next.
    expect(usual.change.high / usual.change.low).toBeLessThan(3)
  })

  test('waits for the re-test of the one before, counted from the day that really went on', () => {
    const plan = planOf(100)
    const late = bedOf(100, asPlanned, { journal: [treated('ground limestone', 60, 1600)] })
    const next = followPlan(late, plan).next!
    expect(next.dueAt).toBeGreaterThanOrEqual(NOW - 60 * DAY + 90 * DAY)
    expect(next.dueAt).toBeGreaterThanOrEqual(plan.stages[1]!.dueAt)
  })

  test('is smaller where the bed answered more strongly, never larger than planned', () => {
    const amount = (times: number): number =>
      followPlan(
        bedOf(190, (d) => times * asPlanned(d)),
        planOf(190),
      ).next?.amountG ?? 0
    const weak = amount(0.6)
    const usual = amount(1)
    const strong = amount(1.45)
    expect(weak).toBeLessThanOrEqual(1600)
    expect(usual).toBeLessThanOrEqual(1600)
    expect(strong).toBeLessThan(usual)
    expect(strong).toBeGreaterThan(0)
  })

  test('keeps to the caps of the material, whatever was planned', () => {
    const big = planOf(190, {
      targetPh: 9,
      stages: [stage(NOW - 190 * DAY, 1), { ...stage(NOW, null), amountG: 90_000 }],
    })
    const facts = bedOf(190, asPlanned, { bed: { ownBand: { low: 7.9, high: 9 } } })
    const { amountG } = followPlan(facts, big).next!
    const perYear = limestone.caps.filter(({ when }) => when === null).map(({ gM2 }) => gM2)
    expect(amountG / 9.29).toBeLessThanOrEqual(Math.max(...perYear))
    // Half a pH as far as it is likely, by the buffering the plan took and the bed confirmed.
    expect((amountG * 0.9) / 9.29 / 390).toBeLessThanOrEqual(0.55)
  })

  test('its amount is what kitchen scales show, and at most what was planned', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.3, max: 1.45, noNaN: true }),
        fc.integer({ min: 100, max: 4000 }),
        (times, amountG) => {
          const plan = planOf(190, {
            stages: [stage(NOW - 190 * DAY, 1), { ...stage(NOW, null), amountG }],
          })
          const { next } = followPlan(
            bedOf(190, (d) => times * asPlanned(d)),
            plan,
          )
          if (next === null) return
          expect(next.amountG).toBeLessThanOrEqual(amountG)
          if (next.amountG < amountG) expect(roundedDown(next.amountG)).toBe(next.amountG)
        },
      ),
      { numRuns: 60 },
    )
  })

  test('what was measured counts by how sure it is', () => {
    const portions = [
      {
        stage: { ...stage(0, 1), change: { low: 0.2, typical: 0.4, high: 0.8 } },
        at: 0,
        amountG: 1600,
      },
    ]
    const byNow = 0.4 * predictedShare(limestone, 200).typical
    const learned = (times: number | null, se = 0.01) =>
      learnedResponse(
        portions,
        limestone,
        200 * DAY,
        times === null ? null : { value: times * byNow, se, low: 0, high: 0, against: '' },
      )
    expect(learned(null)).toEqual({ low: 0.5, typical: 1, high: 2 })
    expect(learned(1.5).typical).toBeGreaterThan(1.4)
    expect(learned(1.5).typical).toBeLessThan(1.6)
    expect(learned(1.5).high / learned(1.5).low).toBeLessThan(1.5)
    const unsure = learned(1.5, 5)
    expect(unsure.typical).toBeCloseTo(1, 1)
    expect(unsure.high / unsure.low).toBeGreaterThan(4)
    // What went the wrong way makes it weak, but never turns it round.
    expect(learned(-1.2).low).toBeGreaterThan(0.1)
    expect(learned(-1.2).typical).toBeLessThan(0.6)
  })
})
