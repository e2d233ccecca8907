import { describe, expect, test } from 'vitest'
import { dosingOf } from '#hub/agronomy/dosing.ts'
import { DAY } from '#hub/model/clock.ts'
import type { BedFacts } from '#hub/planning/bed-facts.ts'
import { type Buffering, bufferingOf } from '#hub/planning/buffering.ts'
import { dayOf } from '#hub/planning/calendar.ts'
import { type Draft, draftPlan } from '#hub/planning/draft.ts'
import { draftCourse } from '#hub/planning/draft/draft-course.ts'
import { needOf } from '#hub/planning/need.ts'
import { optionsFor } from '#hub/planning/options.ts'
import { type Change, factsOf, NOW, sampleOf, treated, yearOf } from './facts.ts'

function answer(
  facts: BedFacts,
  material: string,
  {
    strength = null,
    buffering,
    target = null,
  }: { strength?: number | null; buffering?: Buffering; target?: number | null } = {},
): ReturnType<typeof draftPlan> {
  const need = needOf(facts, target)
  const held = buffering ?? bufferingOf(facts, need.verdict === 'lower' ? 'lower' : 'raise')
  const option = optionsFor(facts, need, held).find((o) => o.material === material)!
  return draftPlan(facts, need, held, option, strength)
}

function drafted(...of: Parameters<typeof answer>): Draft {
  const draft = answer(...of)
  if ('refused' in draft) throw new Error(draft.refused.map((t) => t.sentence).join('\n'))
  return draft
}

function refusal(...of: Parameters<typeof answer>): string {
  const draft = answer(...of)
  if (!('refused' in draft)) throw new Error(draft.sentence)
  return draft.refused.map((t) => t.sentence).join('\n')
}

const LIME = 'ground-limestone'
const SWEET: Partial<Change> = { ph: 6.6, bed: { ownBand: { low: 5, high: 5.8 } } }
const days = (draft: Draft, zone = 'Europe/Lisbon'): string[] =>
  draft.plan.stages.map(({ dueAt }) => dayOf(dueAt, zone).toString())

describe('the first portion', () => {
  test('begins from the low half of the range: between the least and the usual figure', () => {
    const facts = factsOf({ ph: 6, bed: { areaM2: 10 } })
    const { stages } = drafted(facts, LIME, { strength: 1 }).plan
    // 0.5 pH on loam: 146 g/m2 at the least, 195 at the usual figure; in between 169.
    expect(stages[0]!.amountG).toBe(1690)
    expect(stages[0]!.change.typical).toBeCloseTo(169 / 391)
  })

  test('today where nothing speaks against it, the next after the measuring in between', () => {
    const draft = drafted(factsOf(), LIME)
    // Penn State prints six months between portions of limestone; that falls into the winter.
    expect(days(draft)).toEqual(['2027-05-12', '2028-04-03'])
    const [first] = draft.plan.stages
    expect(first!.retestsAt.map((at) => dayOf(at, 'Europe/Lisbon').toString())).toEqual([
      '2027-08-10',
      '2027-11-08',
      '2028-05-11',
    ])
  })

  test('waits with the soil: in January sulfur begins when this bed was warm a year ago', () => {
    const at = Date.UTC(2027, 0, 20, 12)
    const facts = factsOf({
      ...SWEET,
      at,
      journal: [sampleOf(6.6, 5, at)],
      soilC: yearOf(at),
    })
    const draft = drafted(facts, 'sulfur')
    const first = dayOf(draft.plan.stages[0]!.dueAt, 'Europe/Lisbon')
    expect(first.year).toBe(2027)
    expect(first.month).toBe(4)
    expect(draft.told[0]).toMatchObject({ effect: 'wait', later: true })
    expect(draft.told[0]!.until).toBeLessThanOrEqual(draft.plan.stages[0]!.dueAt)
  })

  test('in autumn lime is planned for the spring', () => {
    const at = Date.UTC(2027, 10, 20, 12)
    const facts = factsOf({ at, journal: [sampleOf(5.5, 5, at)], soilC: null })
    const draft = drafted(facts, LIME)
    expect(days(draft)[0]).toBe('2028-04-01')
    expect(
      draft.told.some((t) =>
        /take another sample of Heron Bed shortly before 1 April 2028/.test(t.sentence),
      ),
    ).toBe(true)
  })

  test('in the south the season goes over the new year', () => {
    const at = Date.UTC(2027, 10, 20, 12)
    const zone = 'Pacific/Auckland'
    const facts = factsOf({ at, zone, journal: [sampleOf(5.5, 5, at)], soilC: null })
    const draft = drafted(facts, LIME)
    expect(days(draft, zone)[0]).toBe('2027-11-21')
    expect(days(draft, zone)[1]).toBe('2028-10-01')
  })

  test('after manure it begins three weeks later', () => {
    const facts = factsOf({ journal: [treated('horse manure', 5), sampleOf(5.5, 2)] })
    expect(days(drafted(facts, LIME))[0]).toBe('2027-05-29')
  })

  test('while an earlier dose is at work there is no plan: first it has to be measured', () => {
    const facts = factsOf({ journal: [treated('garden lime', 50, 500), sampleOf(5.5, 2)] })
    expect(refusal(facts, LIME)).toMatch(/still at work/)
  })
})

describe('sulfur', () => {
  test('its re-test counts warm days only, by what the soil did a year ago', () => {
    const late = Date.UTC(2027, 8, 1, 12)
    const facts = factsOf({
      ...SWEET,
      at: late,
      journal: [sampleOf(6.6, 5, late)],
      soilC: yearOf(late),
    })
    const [first] = drafted(facts, 'sulfur').plan.stages
    // From September to the next warm days: more than ninety days of the calendar.
    expect(first!.retestsAt[0]! - first!.dueAt).toBeGreaterThan(250 * DAY)
    const calendar = drafted(
      { ...facts, soilC: { day: new Float64Array(), value: new Float64Array() } },
      'sulfur',
    )
    const [plain] = calendar.plan.stages
    expect(Math.round((plain!.retestsAt[0]! - plain!.dueAt) / DAY)).toBe(90)
  })

  test('where plants stand no more than 34 g/m2 goes on in any year', () => {
    // eXtension, Soil pH for Blueberry Plantings: 0.7 lb/100 sq ft a year on established plants (EXT_BLUE).
    const draft = drafted(factsOf({ ...SWEET, ph: 7.2, soil: { planting: 'standing' } }), 'sulfur')
    const { stages } = draft.plan
    for (const stage of stages) {
      const year = stages.filter((s) => s.dueAt <= stage.dueAt && s.dueAt > stage.dueAt - 365 * DAY)
      const put = year.reduce((sum, s) => sum + s.amountG, 0) / 9.29
      expect(put).toBeLessThanOrEqual(34.2)
    }
    expect(
      draft.told.some(
        (t) => t.effect === 'limit' && /of the 1\.6 pH that Heron Bed needs/.test(t.sentence),
      ),
    ).toBe(true)
    expect(draft.sentence).toMatch(/short of 5\.6/)
  })

  test('where nobody said whether plants stand, the limit for standing plants holds', () => {
    const { stages } = drafted(factsOf({ ...SWEET, soil: { planting: null } }), 'sulfur').plan
    expect(stages[0]!.amountG / 9.29).toBeLessThanOrEqual(34.2)
    expect(stages[0]!.amountG / 9.29).toBeGreaterThan(30)
  })

  test('the next portion comes after the re-test and a look at it', () => {
    const { stages } = drafted(factsOf({ ...SWEET, soilC: null }), 'sulfur').plan
    expect(Math.round((stages[1]!.dueAt - stages[0]!.dueAt) / DAY)).toBeGreaterThanOrEqual(97)
  })

  test('a year that opens again in the winter opens when the soil is warm', () => {
    // 1.04 kg on 15 January are all that may go on in a year (1000 lb an acre, UME254).
    const facts = factsOf({
      ph: 6.6,
      bed: { ownBand: { low: 4, high: 5.8 } },
      journal: [treated('sulfur', 117, 1041), sampleOf(6.6, 2)],
      season: { from: '01-01', to: '12-31' },
    })
    const [first] = days(drafted(facts, 'sulfur'))
    expect(first! >= '2028-04-01').toBe(true)
    expect(first! <= '2028-04-08').toBe(true)
  })

  test('no portion on soil that was too cold on that day a year ago, whatever the season says', () => {
    const at = Date.UTC(2027, 7, 1, 12)
    const facts = factsOf({
      ...SWEET,
      at,
      journal: [sampleOf(6.6, 5, at)],
      soilC: (before) => (yearOf(at)(before) > 13 ? 20 : 5),
      season: { from: '01-01', to: '12-31' },
      bed: { ...SWEET.bed!, texture: 'clay' },
    })
    const { stages } = drafted(facts, 'sulfur').plan
    expect(stages.length).toBeGreaterThan(1)
    for (const { dueAt } of stages) {
      const { month } = dayOf(dueAt, 'UTC')
      expect(month).toBeGreaterThanOrEqual(4)
      expect(month).toBeLessThanOrEqual(11)
    }
  })

  test('without a soil temperature the limit for cool soil holds', () => {
    // Clemson: 5 to 10 lb/1000 sq ft at once (CLEM_ACID).
    const { stages } = drafted(factsOf({ ...SWEET, soilC: null }), 'sulfur').plan
    for (const { amountG } of stages) expect(amountG / 9.29).toBeLessThanOrEqual(48.9)
  })
})

describe('what went on already', () => {
  test('counts into the pH of a year', () => {
    // 3.7 kg of limestone 100 days ago are about 0.9 pH.
    const facts = factsOf({ journal: [treated('garden lime', 100, 3700), sampleOf(5.5, 2)] })
    const draft = drafted(facts, LIME)
    const [first] = draft.plan.stages
    const earlier = ((3700 / 9.29) * 0.9) / 391
    const inYear = first!.dueAt - (NOW - 100 * DAY) < 365 * DAY
    expect(inYear ? first!.change.typical + earlier : 1).toBeLessThanOrEqual(1.0001)
    expect(draft.grounds.join(' ')).toMatch(
      /Counted into this year: 1 treatment .* worth about 0\.92 pH/,
    )
  })

  test('counts into the cap of a product, and opens again a year later', () => {
    const facts = factsOf({ journal: [treated('wood ash', 100, 900), sampleOf(5.5, 2)] })
    const first = days(drafted(facts, 'wood-ash'))[0]!
    // 900 g of 907 allowed: not before 1 February 2028, and then not before the season.
    expect(first >= '2028-02-01').toBe(true)
  })

  test('of an amount that was not written down the whole year is taken', () => {
    const facts = factsOf({ journal: [treated('wood ash', 100, null), sampleOf(5.5, 2)] })
    expect(days(drafted(facts, 'wood-ash'))[0]! >= '2028-02-01').toBe(true)
  })
})

describe('what does not count, and what counts though it is not known', () => {
  test('what went the other way takes nothing from the year', () => {
    const facts = factsOf({ journal: [treated('sulfur', 200, 800), sampleOf(5.5, 2)] })
    const draft = drafted(facts, LIME)
    expect(draft.grounds.join(' ')).not.toMatch(/Counted into this year/)
    expect(draft.plan.stages[0]!.amountG).toBe(drafted(factsOf(), LIME).plan.stages[0]!.amountG)
  })

  test('two treatments of unknown amount fill a year: the next portion when one of them is a year ago', () => {
    const facts = factsOf({
      journal: [treated('dolomite', 300), treated('dolomite', 140), sampleOf(5.5, 2)],
    })
    // Another product than the one that is planned: the pH of a year is what counts.
    const [first] = drafted(facts, LIME).plan.stages
    expect(first!.dueAt).toBeGreaterThanOrEqual(NOW - 300 * DAY + 365 * DAY - DAY)
  })

  test('what is still at work may lead past a narrow band by itself: nothing more', () => {
    const facts = factsOf({
      ph: 6,
      bed: { ownBand: { low: 6.3, high: 6.5 } },
      journal: [treated('lime', 100, 3000), sampleOf(6, 2)],
    })
    expect(refusal(facts, LIME)).toMatch(/may still bring it to the other side of its band/)
  })
})

describe('how far a plan goes', () => {
  test('no further than two years ahead', () => {
    const draft = drafted(factsOf({ ...SWEET, ph: 7.2, soil: { planting: 'standing' } }), 'sulfur')
    for (const { dueAt } of draft.plan.stages) expect(dueAt).toBeLessThanOrEqual(NOW + 730 * DAY)
  })

  test('the range of a dose holds both doubts: of the soil and of the product', () => {
    const facts = factsOf()
    const need = needOf(facts, null)
    const buffering = bufferingOf(facts, 'raise')!
    const [option] = optionsFor(facts, need, buffering)
    // 1.0 pH on loam, 293 to 525 g/m2, of limestone that is 0.8 to 1.0 of pure lime.
    expect(option!.dose!.gM2.low).toBeCloseTo(293)
    expect(option!.dose!.gM2.typical).toBeCloseTo(391 / 0.9)
    expect(option!.dose!.gM2.high).toBeCloseTo(525 / 0.8)
  })

  test('a long way is not promised: it says how far four portions go', () => {
    const facts = factsOf({ ph: 4.2, bed: { texture: 'clay' } })
    const draft = drafted(facts, LIME)
    expect(draft.plan.stages.length).toBeLessThanOrEqual(4)
    const gone = draft.plan.stages.reduce((sum, s) => sum + s.change.typical, 0)
    expect(gone).toBeLessThan(2.3)
    expect(
      draft.told.some((t) => t.effect === 'limit' && /Then look at it anew/.test(t.sentence)),
    ).toBe(true)
    expect(draft.ends.typical).toBeCloseTo(4.2 + gone)
  })

  test('not even the worst case of a portion leads past the far edge of a narrow band', () => {
    const facts = factsOf({ ph: 5.9, bed: { ownBand: { low: 6.2, high: 6.4 } } })
    const wide: Buffering = {
      gM2PerPh: { low: 100, typical: 400, high: 900 },
      parts: [],
      sentence: '',
    }
    const [first] = drafted(facts, LIME, { buffering: wide, strength: 1 }).plan.stages
    expect(5.9 + first!.change.high).toBeLessThanOrEqual(6.4 + 1e-9)
  })

  test('an aim past the middle is warned of', () => {
    const draft = drafted(factsOf(), LIME, { target: 6.9 })
    expect(draft.told.some((t) => t.effect === 'warn' && /past the middle/.test(t.sentence))).toBe(
      true,
    )
    expect(drafted(factsOf(), LIME).told.some((t) => /past the middle/.test(t.sentence))).toBe(
      false,
    )
  })

  test('the course begins where the bed is and comes to where it ends', () => {
    const facts = factsOf()
    const { course, plan, ends } = drafted(facts, LIME)
    expect(course.time[0]).toBe(facts.at)
    expect(course.typical[0]).toBeCloseTo(5.5)
    expect(course.time[1]! - course.time[0]!).toBe(7 * DAY)
    // To begin with the doubt is that of where the bed is.
    const { ph } = needOf(facts, null)
    expect(course.low[0]).toBeCloseTo(ph!.low)
    expect(course.high[0]).toBeCloseTo(ph!.high)
    const top = Math.max(...course.typical)
    expect(top).toBeGreaterThan(6.2)
    expect(top).toBeLessThanOrEqual(ends.typical)
    expect(course.time.at(-1)!).toBeGreaterThanOrEqual(plan.stages.at(-1)!.fullBy)
  })
})

test('what is still to come from earlier doses is part of the course', () => {
  const facts = factsOf({ journal: [treated('lime', 95, 1500), sampleOf(5.5, 2)] })
  const need = needOf(facts, null)
  const { coming } = need
  const draft = drafted(facts, LIME)
  const gone = draft.plan.stages.reduce((sum, s) => sum + s.change.typical, 0)
  expect(coming!.value).toBeGreaterThan(0.03)
  expect(draft.ends.typical).toBeCloseTo(5.5 + coming!.value + gone)
  const { stages } = draft.plan
  const without = draftCourse(NOW, { ...need, coming: null }, dosingOf(LIME)!, stages)
  expect(draft.course.typical[0]).toBeCloseTo(without.typical[0]!)
  expect(draft.course.typical.at(-1)! - without.typical.at(-1)!).toBeCloseTo(coming!.value)
})

describe('refused', () => {
  test('a bed so small that scales cannot show the portion', () => {
    const facts = factsOf({ ...SWEET, bed: { ...SWEET.bed!, areaM2: 0.1, texture: 'sand' } })
    expect(refusal(facts, 'sulfur')).toMatch(/kitchen scales cannot show it/)
  })

  test('soil that was never warm enough', () => {
    // Warm just now, after two years of cold.
    const facts = factsOf({
      ...SWEET,
      soilC: (before) => (before < 8 ? 12 : 5),
      season: { from: '06-01', to: '09-30' },
    })
    expect(refusal(facts, 'sulfur')).toMatch(/never warm enough/)
  })

  test('a product too weak for this bed', () => {
    expect(refusal(factsOf(), 'wood-ash', { strength: 0.08 })).toMatch(/take something stronger/)
  })

  test.each([0, -1, 0.1, 0.35, 1.3, 5, NaN])('a label that says %d', (strength) => {
    expect(refusal(factsOf(), LIME, { strength })).toMatch(/Look at the label again/)
  })

  test('a strength that is a slip, in the per cent of the label', () => {
    expect(refusal(factsOf(), LIME, { strength: 0.1 })).toMatch(
      /^10 % \(calcium carbonate equivalent\) is far less .* 80 to 100 % are usual/,
    )
    expect(refusal(factsOf(), LIME, { strength: 1.5 })).toMatch(/^150 % .* is more than/)
  })

  test('a strength that the material can have is taken', () => {
    expect(drafted(factsOf(), LIME, { strength: 0.75 }).plan.strength).toBe(0.75)
    expect(drafted(factsOf(), LIME).plan.strength).toBe(dosingOf(LIME)!.acts.typical)
    expect(drafted(factsOf(), 'hydrated-lime', { strength: 1.35 }).plan.strength).toBe(1.35)
  })

  test('a bed without a band, without days, without a confirmation, without a buffering', () => {
    expect(refusal(factsOf({ bed: { ownBand: null } }), LIME)).toMatch(/No band yet/)
    expect(refusal(factsOf({ ph: [5.5] }), LIME)).toMatch(/10 are needed/)
    expect(refusal(factsOf({ journal: [] }), LIME)).toMatch(/confirm the pH/)
    expect(refusal(factsOf({ bed: { texture: 'raised-bed mix' } }), LIME)).toMatch(/jar test/)
  })
})

test('a plan says in a sentence what goes on when, where it leads and when to measure', () => {
  const draft = drafted(factsOf({ ph: 6 }), LIME, { strength: 1 })
  expect(draft.sentence).toMatch(
    /^One portion of ground limestone on Heron Bed: 1\.57 kg from 12 May 2027\. It is expected to come from pH 6\.0 to about 6\.4 .* by 11 May 2028.* Measure again on 10 August 2027\.$/,
  )
  expect(draft.grounds.join('\n')).toMatch(
    /From pH 6\.0 to 6\.5: 0\.5 pH\.\nOne pH of this bed is 391 g/,
  )
})

test('on the surface among plants no portion of lime is larger than half of what may be dug in', () => {
  // Deep heavy soil takes a lot of lime; plants stand, so all of it stays at the top.
  const deep = { bed: { texture: 'clay', depthM: 0.45 } } as const
  const dug = drafted(factsOf(deep), LIME).plan.stages
  const { plan, grounds } = drafted(factsOf({ ...deep, soil: { planting: 'standing' } }), LIME)
  expect(Math.max(...dug.map((s) => s.amountG)) / 9.29).toBeGreaterThan(400)
  for (const { amountG } of plan.stages) expect(amountG / 9.29).toBeLessThanOrEqual(244.13)
  expect(grounds.join(' ')).toContain('of which it reaches the top first')
})
