import { describe, expect, test } from 'vitest'
import { DAY } from '#hub/model/clock.ts'
import type { Plan, PlanStage } from '#hub/model/plan.ts'
import { plannedDays } from '#hub/planning/dates.ts'
import { followPlan } from '#hub/planning/follow.ts'
import { type Change, factsOf, NOW, sampleOf, treated } from '../facts.ts'

const stage = (dueAt: number, amountG: number, entryId: number | null): PlanStage => ({
  dueAt,
  amountG,
  change: { low: 0.3, typical: 0.4, high: 0.55 },
  fullFrom: dueAt + 86 * DAY,
  fullBy: dueAt + 365 * DAY,
  retestsAt: [dueAt + 90 * DAY],
  entryId,
})

/** 1.6 kg of limestone twice on 9.29 m2 of loam, 15 cm deep, from pH 5.5 to 6.5. */
const planOf = (first: PlanStage, second: PlanStage): Plan => ({
  id: 1,
  bedId: 1,
  createdAt: NOW - 400 * DAY,
  material: 'ground-limestone',
  strength: 0.9,
  fromPh: 5.5,
  targetPh: 6.5,
  buffering: { low: 293, typical: 391, high: 525 },
  basis: 'By its texture.',
  stages: [first, second],
  closedAt: null,
  ending: null,
})
const notBegun = planOf(stage(NOW, 1600, null), stage(NOW + 183 * DAY, 1600, null))
const half = planOf(stage(NOW - 190 * DAY, 1600, 1), stage(NOW - 7 * DAY, 1600, null))
/** Half-way: the first portion is on since 190 days and has done what it should. */
const halfWay = (change: Partial<Change> = {}) =>
  factsOf({
    ph: Array.from({ length: 240 }, (_, i) =>
      i < 50 ? 5.5 : 5.5 + 0.4 * Math.min(1, (i - 50) / 90),
    ),
    journal: [treated('ground limestone', 190, 1600), sampleOf(5.9, 5, NOW)],
    ...change,
  })

describe('a plan of which nothing is on yet', () => {
  test('keeps its amount while the bed is as it was', () => {
    const { next, stop } = followPlan(factsOf(), notBegun)
    expect(stop).toBeNull()
    expect(next!.amountG).toBe(1600)
  })

  test.each([
    ['a tenth of the area', { bed: { areaM2: 0.929 } }, 175],
    ['a third of the depth', { bed: { depthM: 0.05 } }, 585],
    ['sand instead of loam', { bed: { texture: 'sand' } }, 1150],
    ['light soil', { soil: { bulkDensity: 500 } }, 750],
  ] as const)('puts less on a bed that turns out to be %s', (_, change, most) => {
    const { next, sentence } = followPlan(factsOf(change), notBegun)
    expect(next!.amountG).toBeGreaterThan(0)
    expect(next!.amountG).toBeLessThanOrEqual(most)
    expect(sentence).toContain('1.6 kg were planned')
    expect(sentence).toContain('make a new one')
  })

  test.each([
    ['crops that need it sour', { bed: { ownBand: { low: 4.5, high: 5.2 } } }, 'has to go down'],
    ['a band it lies in', { bed: { ownBand: { low: 5, high: 6 } } }, 'needs nothing'],
    [
      'sulfur in the meantime',
      { journal: [treated('elemental sulfur', 20, 100), sampleOf(5.5, 5, NOW)] },
      'works the other way',
    ],
  ])('stops with %s', (_, change, why) => {
    const { next, stop, sentence } = followPlan(factsOf(change), notBegun)
    expect(next).toBeNull()
    expect(stop).toBe('stopped')
    expect(sentence).toContain('Put nothing on, and end the plan')
    expect(sentence).toContain(why)
  })

  test('says what is missing before a portion that is due', () => {
    const { next, sentence } = followPlan(factsOf({ journal: [sampleOf(5.5, 90, NOW)] }), notBegun)
    expect(next!.amountG).toBe(1600)
    expect(sentence).toContain('First: Before a dose, confirm the pH')
  })
})

describe('a plan half-way', () => {
  test('goes on while the bed is as it was', () => {
    const { next, stop } = followPlan(halfWay(), half)
    expect(stop).toBeNull()
    expect(next!.amountG).toBeGreaterThan(800)
  })

  test('stops when the bed has other crops that want it the other way', () => {
    const { next, stop, sentence } = followPlan(
      halfWay({ bed: { ownBand: { low: 4.5, high: 5.3 } } }),
      half,
    )
    expect(next).toBeNull()
    expect(stop).toBe('stopped')
    expect(sentence).toContain('Put nothing more on, and end the plan')
  })

  test('stops when the opposite went on', () => {
    const journal = [
      treated('ground limestone', 190, 1600),
      treated('elemental sulfur', 20, 100),
      sampleOf(5.9, 5, NOW),
    ]
    const { next, stop, sentence } = followPlan(halfWay({ journal }), half)
    expect(next).toBeNull()
    expect(stop).toBe('stopped')
    expect(sentence).toContain('works the other way')
  })

  test('goes no further than the band of other crops', () => {
    const far = followPlan(halfWay(), half).next!.amountG
    const near = followPlan(halfWay({ bed: { ownBand: { low: 5.95, high: 6.1 } } }), half).next
    expect(near === null ? 0 : near.amountG).toBeLessThan(0.6 * far)
  })

  test('puts less on a bed that turns out to be shallower', () => {
    const deep = followPlan(halfWay(), half).next!.amountG
    const shallow = followPlan(halfWay({ bed: { depthM: 0.05 } }), half).next
    expect(shallow === null ? 0 : shallow.amountG).toBeLessThan(0.5 * deep)
  })
})

test('ten times what was planned is told, with where to put a slip right, and stops the plan', () => {
  const journal = [treated('ground limestone', 20, 16_000), sampleOf(5.5, 15, NOW)]
  const facts = factsOf({ ph: Array.from({ length: 60 }, () => 5.5), journal })
  const plan = planOf(stage(NOW - 20 * DAY, 1600, 1), stage(NOW + 163 * DAY, 1600, null))
  const { next, stop, sentence } = followPlan(facts, plan)
  expect(next).toBeNull()
  expect(stop).toBe('stopped')
  expect(sentence).toContain('16 kg of ground limestone are written down where 1.6 kg were planned')
  expect(sentence).toContain('correct it in the journal')
  expect(sentence).toContain('above pH 8, outside its band')
  expect(sentence).not.toMatch(/pH (9|1\d)/)
})

test('the calendar has less of every portion for a bed that turns out smaller, and none once it stops', () => {
  const amounts = (change: Partial<Change>): readonly string[] =>
    plannedDays([{ ...factsOf(change), plans: [notBegun] }])
      .filter(({ kind }) => kind === 'treat')
      .map(({ summary }) => summary)
  expect(amounts({})).toEqual([
    'Heron Bed: 1.6 kg ground limestone',
    'Heron Bed: 1.6 kg ground limestone',
  ])
  const small = amounts({ bed: { areaM2: 0.929 } })
  expect(small).toHaveLength(2)
  for (const summary of small) expect(summary).toMatch(/: 1[67]\d g ground limestone/)
  expect(amounts({ bed: { ownBand: { low: 4.5, high: 5.2 } } })).toEqual([])
})
