import { describe, expect, test } from 'vitest'
import { DAY } from '#hub/model/clock.ts'
import type { Plan } from '#hub/model/plan.ts'
import type { NewSoilTest } from '#hub/model/soil.ts'
import type { BedFacts } from '#hub/planning/bed-facts.ts'
import { bufferingOf } from '#hub/planning/buffering.ts'
import { jarSlope } from '#hub/planning/buffering/jar-evidence.ts'
import { combineRanges } from '#hub/planning/buffering/log-range.ts'
import { effectOf, factsOf, NOW, treated } from './facts.ts'

const LIMED = NOW - 400 * DAY

/** A bed that was limed 400 days ago with 2 kg, and what that did. */
function limed(
  peak: { value: number; low: number; high: number },
  change: { peakDay?: number | null; plans?: readonly Plan[]; material?: string } = {},
): BedFacts {
  const material = change.material ?? 'garden lime'
  const effect = effectOf(1, LIMED, material, peak)
  const answer = {
    ...effect,
    peakDays: { value: change.peakDay === undefined ? 140 : change.peakDay, low: 100, high: 200 },
  }
  return {
    ...factsOf({
      journal: [treated(material, 400, 2000)],
      study: { effects: [{ id: 1, at: LIMED, material, answers: [answer] }] },
    }),
    plans: change.plans ?? [],
  }
}

const jars = (...pairs: readonly (readonly [limeG: number, ph: number])[]): NewSoilTest => ({
  bedId: 1,
  at: NOW,
  text: '',
  kind: 'jar test',
  soilG: 200,
  jars: pairs.map(([limeG, ph]) => ({ limeG, ph })),
})

describe('how a bed holds its pH', () => {
  test('texture alone is the table, and said to tell it roughly', () => {
    const found = bufferingOf(factsOf(), 'raise')!
    expect(found.gM2PerPh).toEqual({ low: 293, typical: 391, high: 525 })
    expect(found.parts).toHaveLength(1)
    // The two limestone tables for loam among what it rests on.
    expect(found.parts[0]!.sources).toEqual(
      expect.arrayContaining(['LIME_TBL_A', 'LIME_TBL_B', 'CALC']),
    )
    expect(found.sentence).toMatch(/texture alone, which tells it only roughly/)
  })

  test('fill of a raised bed without a test is not known, either way', () => {
    const facts = factsOf({ bed: { texture: 'raised-bed mix' } })
    expect(bufferingOf(facts, 'raise')).toBeNull()
    expect(bufferingOf(facts, 'lower')).toBeNull()
  })

  test('a treatment here: amount times strength over its highest effect', () => {
    const facts = limed({ value: 0.5, low: 0.4, high: 0.6 })
    const part = bufferingOf(facts, 'raise')!.parts.find((p) => p.kind === 'treatments here')!
    // 2 kg on 9.29 m2, limestone at 0.9.
    expect(part.gM2PerPh.typical).toBeCloseTo(((2000 / 9.29) * 0.9) / 0.5, 6)
    expect(part.gM2PerPh.low).toBeLessThan(((2000 / 9.29) * 0.9) / 0.58)
    expect(part.gM2PerPh.high).toBeGreaterThan(((2000 / 9.29) * 0.9) / 0.42)
    expect(part.sentence).toMatch(
      /2 kg of ground limestone on this bed from 7 April 2026 moved it by \+0\.5 pH/,
    )
  })

  test('what was seen on this bed weighs more than a table of other soils', () => {
    const found = bufferingOf(limed({ value: 0.5, low: 0.4, high: 0.6 }), 'raise')!
    expect(found.parts[0]!.kind).toBe('treatments here')
    expect(found.parts[0]!.weight).toBeGreaterThan(0.6)
    expect(found.parts.reduce((sum, p) => sum + p.weight, 0)).toBeCloseTo(1)
  })

  test('a strength from the label of a kept plan is taken exactly', () => {
    const plan: Plan = {
      id: 1,
      bedId: 1,
      createdAt: LIMED,
      material: 'ground-limestone',
      strength: 0.7,
      fromPh: 5.5,
      targetPh: 6,
      buffering: { low: 1, typical: 1, high: 1 },
      basis: '',
      stages: [
        {
          dueAt: LIMED,
          amountG: 2000,
          change: { low: 0.1, typical: 0.1, high: 0.1 },
          fullFrom: LIMED,
          fullBy: LIMED,
          retestsAt: [],
          entryId: 1,
        },
      ],
      closedAt: null,
      ending: null,
    }
    const facts = limed({ value: 0.5, low: 0.4, high: 0.6 }, { plans: [plan] })
    const part = bufferingOf(facts, 'raise')!.parts.find((p) => p.kind === 'treatments here')!
    expect(part.gM2PerPh.typical).toBeCloseTo(((2000 / 9.29) * 0.7) / 0.5, 6)
  })

  test.each([
    ['an interval that holds zero', limed({ value: 0.3, low: -0.1, high: 0.7 })],
    [
      'an effect that still grows: the bed would seem to hold too strongly',
      limed({ value: 0.5, low: 0.4, high: 0.6 }, { peakDay: null }),
    ],
    ['an effect the wrong way', limed({ value: -0.5, low: -0.6, high: -0.4 })],
    ['a material nobody knows', limed({ value: 0.5, low: 0.4, high: 0.6 }, { material: 'tonic' })],
  ])('%s tells nothing', (_, facts) => {
    expect(bufferingOf(facts, 'raise')!.parts.map((p) => p.kind)).toEqual(['texture'])
  })

  test('an amount that was not written down tells nothing', () => {
    const facts = limed({ value: 0.5, low: 0.4, high: 0.6 })
    const journal = facts.journal.map((e) => ({ ...e, amountG: null }))
    expect(bufferingOf({ ...facts, journal }, 'raise')!.parts).toHaveLength(1)
  })

  test('sources that contradict each other are told and widen the result', () => {
    const near = bufferingOf(limed({ value: 0.49, low: 0.44, high: 0.54 }), 'raise')!
    const far = bufferingOf(limed({ value: 2.4, low: 2.3, high: 2.5 }), 'raise')!
    const width = ({ gM2PerPh: { low, high } }: typeof near): number => Math.log(high / low)
    expect(near.sentence).not.toMatch(/contradict/)
    expect(far.sentence).toMatch(/contradict each other/)
    expect(width(far)).toBeGreaterThan(1.5 * width(near))
  })

  test('what was seen on the way up counts less on the way down', () => {
    const facts = limed({ value: 0.5, low: 0.4, high: 0.6 })
    const weight = (way: 'raise' | 'lower'): number =>
      bufferingOf(facts, way)!.parts.find((p) => p.kind === 'treatments here')!.weight
    expect(weight('lower')).toBeLessThan(weight('raise'))
  })

  test('so does what a laboratory advised for lime', () => {
    const facts = factsOf({
      tests: [
        {
          bedId: 1,
          at: NOW,
          text: '',
          kind: 'lime requirement',
          limeGM2: 350,
          depthM: 0.15,
          fromPh: 5.5,
          toPh: 6.5,
        },
      ],
    })
    const width = (way: 'raise' | 'lower'): number => {
      const { low, high } = bufferingOf(
        { ...facts, bed: { ...facts.bed, texture: 'raised-bed mix' } },
        way,
      )!.gM2PerPh
      return high / low
    }
    const alone = width('raise')
    expect(alone).toBeGreaterThan(1.5)
    const weight = (way: 'raise' | 'lower'): number =>
      bufferingOf(facts, way)!.parts.find((p) => p.kind === 'laboratory')!.weight
    expect(weight('lower')).toBeLessThan(0.9 * weight('raise'))
  })

  test('the newest test of a kind is the one', () => {
    const need = (limeGM2: number, daysBefore: number): NewSoilTest => ({
      bedId: 1,
      at: NOW - daysBefore * DAY,
      text: '',
      kind: 'lime requirement',
      limeGM2,
      depthM: 0.15,
      fromPh: 5.5,
      toPh: 6.5,
    })
    const facts = factsOf({
      bed: { texture: 'raised-bed mix' },
      tests: [need(300, 10), need(900, 500)],
    })
    expect(bufferingOf(facts, 'raise')!.gM2PerPh.typical).toBeCloseTo(300)
  })
})

describe('a jar test', () => {
  // Soil that takes 2 g of lime a kilogram for one pH; 200 g in each jar.
  const clean = jars([0, 5.5], [0.2, 6], [0.4, 6.5], [0.6, 7])

  test('the slope by least squares', () => {
    const { slope, reach, used } = jarSlope(clean as Parameters<typeof jarSlope>[0])!
    expect(slope).toBeCloseTo(0.5)
    expect(used).toBe(4)
    // Four jars with a scatter of 0.1 do not tell a slope to within a tenth.
    expect(reach).toBeGreaterThan(0.05)
  })

  test('over the soil under a square metre', () => {
    const facts = factsOf({ bed: { texture: 'raised-bed mix' }, tests: [clean] })
    // 15 cm at 1350 kg/m3 are 202.5 kg.
    expect(bufferingOf(facts, 'raise')!.gM2PerPh.typical).toBeCloseTo(2 * 202.5, 6)
  })

  test('an unknown density of the fill is part of the doubt', () => {
    const width = (bulkDensity: number | null): number => {
      const facts = factsOf({
        bed: { texture: 'raised-bed mix' },
        soil: { bulkDensity },
        tests: [clean],
      })
      const { low, high } = bufferingOf(facts, 'raise')!.gM2PerPh
      return high / low
    }
    expect(width(null)).toBeGreaterThan(1.5 * width(600))
  })

  test('jars full of lime are left out: there the line ends', () => {
    const full = jars([0, 5.5], [0.2, 6], [0.4, 6.5], [2, 7.9], [4, 8.1])
    const { slope, used } = jarSlope(full as Parameters<typeof jarSlope>[0])!
    expect(used).toBe(3)
    expect(slope).toBeCloseTo(0.5)
  })

  test.each([
    ['jars that do not rise', jars([0, 5.5], [0.2, 5.4], [0.4, 5.5])],
    ['all jars with the same lime', jars([0.2, 5.5], [0.2, 5.6], [0.2, 5.4])],
    ['two jars below the end of the line', jars([0, 6.9], [0.2, 7.2], [0.4, 7.8], [0.6, 8])],
  ])('%s tell nothing', (_, test_) => {
    expect(
      bufferingOf(factsOf({ bed: { texture: 'raised-bed mix' }, tests: [test_] }), 'raise'),
    ).toBeNull()
  })
})

describe('combining log-normal sources', () => {
  const a = { low: 200, typical: 400, high: 800 }

  test('two alike are narrower by the root of two, in the same middle', () => {
    const { range, weights } = combineRanges([a, a])
    expect(range.typical).toBeCloseTo(400)
    expect(Math.log(range.high / 400)).toBeCloseTo(Math.log(2) / Math.SQRT2)
    expect(weights).toEqual([0.5, 0.5])
  })

  test('the middle is the geometric one, drawn to the narrower', () => {
    expect(combineRanges([a, { low: 50, typical: 100, high: 200 }]).range.typical).toBeCloseTo(200)
    const sharp = { low: 95, typical: 100, high: 105 }
    expect(combineRanges([a, sharp]).range.typical).toBeLessThan(105)
  })

  test('one alone is itself, uneven sides and all', () => {
    expect(combineRanges([{ low: 1, typical: 2, high: 10 }]).range).toEqual({
      low: 1,
      typical: 2,
      high: 10,
    })
  })
})
