import { describe, expect, test } from 'vitest'
import { dosingOf } from '#hub/agronomy/dosing.ts'
import { CARBONATE_PER_SULFUR } from '#hub/agronomy/planning-limits.ts'
import type { NewSoilTest } from '#hub/model/soil.ts'
import type { Range } from '#hub/model/plan.ts'
import { type Buffering, bufferingOf } from '#hub/planning/buffering.ts'
import { textureEvidence } from '#hub/planning/buffering/texture-evidence.ts'
import { laboratoryEvidence } from '#hub/planning/buffering/laboratory-evidence.ts'
import { doseOf } from '#hub/planning/dose.ts'
import { draftPlan } from '#hub/planning/draft.ts'
import { needOf } from '#hub/planning/need.ts'
import { optionsFor } from '#hub/planning/options.ts'
import { type Change, factsOf, NOW } from './facts.ts'

const LB_100_SQ_FT = 48.8243
const LB_1000_SQ_FT = 4.88243
const LB_ACRE = 0.1120851
const TON_ACRE = 224.17

/** A bed that is known to hold its pH so strongly, for sums that begin with a recommendation. */
function exactly(gM2PerPh: number): Buffering {
  return {
    gM2PerPh: { low: gM2PerPh, typical: gM2PerPh, high: gM2PerPh },
    parts: [],
    sentence: '',
  }
}

/** A way of exactly one pH up. */
const ONE_UP: Partial<Change> = { ph: 5.5, bed: { ownBand: { low: 6.3, high: 7 } } }

describe('Penn State Extension, home garden lime: strength and portions (PSU_HG)', () => {
  test('5 lb recommended, calcium carbonate equivalent 70: 7.14 lb, printed as 7', () => {
    const facts = factsOf(ONE_UP)
    const dose = doseOf(
      facts,
      needOf(facts, 6.5),
      exactly(5 * LB_100_SQ_FT),
      dosingOf('ground-limestone')!,
      0.7,
    )!
    expect(dose.gM2.typical / LB_100_SQ_FT).toBeCloseTo(7.14, 1)
    // 100 sq ft: what goes on the bed is that many pounds.
    expect(dose.bedG.typical / 453.592).toBeCloseTo(7.14, 1)
  })

  // 11 to 20 lb in two, from 21 in three, six months apart; the planner may make more of them, never fewer or larger.
  test.each([
    [15, 2],
    [24, 3],
  ])(
    '%d lb/100 sq ft go on in at least %d portions of at most 10 lb, six months apart',
    (lb, portions) => {
      const facts = factsOf(ONE_UP)
      const need = needOf(facts, 6.5)
      const buffering = exactly(lb * LB_100_SQ_FT)
      const option = optionsFor(facts, need, buffering)[0]!
      const draft = draftPlan(facts, need, buffering, option, 1)
      if ('refused' in draft) throw new Error(JSON.stringify(draft.refused))
      const { stages } = draft.plan
      expect(stages.length).toBeGreaterThanOrEqual(portions)
      for (const [i, { amountG, dueAt }] of stages.entries()) {
        expect(amountG / 9.29).toBeLessThanOrEqual(10 * LB_100_SQ_FT)
        if (i > 0) expect(dueAt - stages[i - 1]!.dueAt).toBeGreaterThanOrEqual(182 * 86_400_000)
      }
      const whole = stages.reduce((sum, s) => sum + s.amountG, 0) / 9.29
      expect(whole).toBeLessThanOrEqual(lb * LB_100_SQ_FT)
      expect(whole).toBeGreaterThan(0.9 * lb * LB_100_SQ_FT)
    },
  )
})

test('AGVISE Laboratories, sulfur on high pH soils: 1 % carbonate in 2,000,000 lb of soil takes 6,400 lb of sulfur an acre, 717 g/m2 (AGVISE_S)', () => {
  // One per cent of the soil's mass as carbonate is a buffering like any other, only that pH does not move meanwhile.
  const facts = factsOf({ ph: 6.5, bed: { ownBand: { low: 5, high: 5.7 } } })
  const need = needOf(facts, 5.5)
  expect(need.change).toBeCloseTo(-1)
  const carbonate = 0.01 * 2_000_000 * LB_ACRE
  const { gM2 } = doseOf(
    facts,
    need,
    exactly(carbonate),
    dosingOf('sulfur')!,
    CARBONATE_PER_SULFUR.value,
  )!
  expect(Math.abs(gM2.typical - 717)).toBeLessThanOrEqual(6)
  expect(Math.abs(gM2.typical / LB_ACRE - 6400)).toBeLessThanOrEqual(50)
})

describe('University of Tennessee Extension, blueberries: sulfur by texture, pH 6.2 to 5.5 (UT_BLUE)', () => {
  // 2.0 lb/1000 sq ft for each tenth on silt loam, a third less on sand, a third more on clay.
  test.each([
    ['silt loam', 14, 68.4],
    ['sand', 9.33, 45.6],
    ['clay', 18.67, 91.1],
  ] as const)('%s: %d lb/1000 sq ft, %d g/m2', (texture, pounds, gM2) => {
    const facts = factsOf({ ph: 6.2, bed: { texture, ownBand: { low: 4.8, high: 5.6 } } })
    const need = needOf(facts, 5.5)
    const dosing = dosingOf('sulfur')!
    const pure = CARBONATE_PER_SULFUR.value
    const planned = doseOf(facts, need, bufferingOf(facts, 'lower')!, dosing, pure)!.gM2
    expect(planned.low).toBeLessThan(gM2)
    expect(planned.high).toBeGreaterThan(gM2)
    if (texture === 'silt loam') expect(Math.abs(planned.typical - gM2)).toBeLessThanOrEqual(0.3)
    // The printed rule itself, through the planner's arithmetic.
    const factor = { 'silt loam': 1, sand: 2 / 3, clay: 4 / 3 }[texture]
    const rule = exactly(20 * LB_1000_SQ_FT * factor * pure)
    const printed = doseOf(facts, need, rule, dosing, pure)!.gM2.typical
    expect(Math.abs(printed - gM2)).toBeLessThanOrEqual(0.3)
    expect(Math.abs(printed / LB_1000_SQ_FT - pounds)).toBeLessThanOrEqual(0.05)
  })

  test('above 30 lb/1000 sq ft the source puts two thirds on first; no portion of the planner is larger', () => {
    const facts = factsOf({ ph: 7.2, bed: { texture: 'clay', ownBand: { low: 4.8, high: 5.6 } } })
    const need = needOf(facts, 5.5)
    const buffering = bufferingOf(facts, 'lower')!
    const option = optionsFor(facts, need, buffering).find((o) => o.material === 'sulfur')!
    const draft = draftPlan(facts, need, buffering, option, null)
    if ('refused' in draft) throw new Error(JSON.stringify(draft.refused))
    for (const { amountG } of draft.plan.stages) {
      expect(amountG / 9.29).toBeLessThanOrEqual((2 / 3) * 45.3 * LB_1000_SQ_FT)
    }
  })
})

describe('a table and a laboratory (LIME_TBL_A, NCDA_LR)', () => {
  test('loam, pH 5.5 to 6.5: 8 lb of ground limestone on 100 sq ft, 390.6 g/m2', () => {
    const facts = factsOf(ONE_UP)
    const { gM2, bedG } = doseOf(
      facts,
      needOf(facts, 6.5),
      bufferingOf(facts, 'raise')!,
      dosingOf('ground-limestone')!,
      1,
    )!
    expect(Math.abs(gM2.typical - 390.6)).toBeLessThanOrEqual(1)
    expect(Math.abs(bedG.typical / 453.592 - 8)).toBeLessThanOrEqual(0.05)
  })

  test('North Carolina Department of Agriculture: 1.2 meq x 0.625 is 0.75 ton an acre, printed 0.76; the planner gives it back', () => {
    const tons = 1.2 * 0.625
    const facts = factsOf({
      ...ONE_UP,
      bed: { texture: 'raised-bed mix', ownBand: { low: 6.3, high: 7 } },
      tests: [
        {
          bedId: 1,
          at: NOW,
          text: '',
          kind: 'lime requirement',
          limeGM2: tons * TON_ACRE,
          depthM: 0.15,
          fromPh: 5.5,
          toPh: 6.5,
        },
      ],
    })
    const dose = doseOf(
      facts,
      needOf(facts, 6.5),
      bufferingOf(facts, 'raise')!,
      dosingOf('ground-limestone')!,
      1,
    )!
    expect(Math.abs(dose.gM2.typical / TON_ACRE - 0.75)).toBeLessThanOrEqual(0.012)
  })
})

describe('Penn State Agronomy Guide: exchangeable acidity x 1000 lb an acre to pH 7.0, x 840 to 6.5 (PSU_AGRON)', () => {
  const acidity = (meqPer100G: number, ph: number): NewSoilTest => ({
    bedId: 1,
    at: NOW,
    text: '',
    kind: 'exchangeable acidity',
    meqPer100G,
    ph,
  })
  // 2,000,000 lb of soil in an acre are 224.17 kg/m2: 16.6 cm at 1350 kg/m3.
  const ACRE_DEPTH = 224.17 / 1350

  test.each([
    [4, 5.5, 840, 1],
    [6.5, 5.0, 840, 1.5],
    [2, 6.2, 840, 0.3],
    [1, 6.4, 1000, 0.6],
  ])('%d meq/100 g at pH %d: %d lb for each over %d pH', (meq, ph, pounds, step) => {
    const facts = factsOf({
      ph: 5.5,
      bed: { texture: 'raised-bed mix', depthM: ACRE_DEPTH },
      tests: [acidity(meq, ph)],
    })
    const [found] = laboratoryEvidence(facts, 'raise')
    expect(found!.gM2PerPh.typical * step).toBeCloseTo(meq * pounds * LB_ACRE, 0)
  })

  test('it goes with the mass of the soil: half the depth, half the lime', () => {
    const at = (depthM: number): number =>
      laboratoryEvidence(
        factsOf({ bed: { texture: 'raised-bed mix', depthM }, tests: [acidity(4, 5.5)] }),
        'raise',
      )[0]!.gM2PerPh.typical
    expect(at(0.2) / at(0.1)).toBeCloseTo(2)
  })

  test('no acidity, or a sample too near the aim, tells no slope', () => {
    for (const [meq, ph] of [
      [0, 6],
      [1, 6.9],
    ] as const) {
      expect(laboratoryEvidence(factsOf({ tests: [acidity(meq, ph)] }), 'raise')).toEqual([])
    }
  })
})

test('the arithmetic is shown with depth and density', () => {
  const [found] = textureEvidence(
    factsOf({ bed: { depthM: 0.3 }, soil: { bulkDensity: 675 } }),
    'raise',
  )
  const { typical }: Range = found!.gM2PerPh
  // Twice the depth, half the density: the table's own figure, 8 lb/100 sq ft (LIME_TBL_A).
  expect(Math.abs(typical - 390.6)).toBeLessThanOrEqual(1)
  expect(found!.sentence).toContain('times 2.00 for 30 cm')
  expect(found!.sentence).toContain('0.50 for 675 kg')
})
