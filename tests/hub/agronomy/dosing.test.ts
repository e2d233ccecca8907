import { expect, test } from 'vitest'
import { AMENDMENTS } from '#hub/agronomy/amendments.ts'
import { DOSINGS, dosingOf } from '#hub/agronomy/dosing.ts'
import type { CitedRange, Dosing } from '#hub/agronomy/dosing.ts'
import * as LIMITS from '#hub/agronomy/planning-limits.ts'
import { sourceById } from '#hub/agronomy/sources.ts'
import { TEXTURES } from '#hub/model/bed.ts'

const LB_100 = 48.8243
const LB_1000 = 4.88243

const ranges = (dosing: Dosing): readonly CitedRange[] => [
  dosing.acts,
  dosing.peak,
  dosing.rise,
  dosing.halfLife,
]

test('materials that move pH can be dosed, but for peat; the others cannot', () => {
  for (const { slug, direction } of AMENDMENTS) {
    const moves = (direction === 'raises' || direction === 'lowers') && slug !== 'peat'
    expect(dosingOf(slug) !== null, slug).toBe(moves)
    if (moves) expect(dosingOf(slug)?.slug).toBe(slug)
  }
  expect(DOSINGS).toHaveLength(8)
  expect(dosingOf('vinegar')).toBeNull()
})

test.each(DOSINGS)('$slug: every figure has its source and a note, in order', (dosing) => {
  const cited = [
    ...ranges(dosing),
    ...dosing.caps,
    dosing.wait,
    dosing.onset,
    dosing.retests,
    ...(dosing.leastSoilC === null ? [] : [dosing.leastSoilC]),
  ]
  for (const { source, note } of cited) {
    expect(sourceById(source).publisher).not.toBe('')
    expect(note).not.toBe('')
    if (source === 'MEM') expect(note).toMatch(/no source|judgement|label/)
  }
  for (const { low, typical, high } of ranges(dosing)) {
    expect(low).toBeGreaterThan(0)
    expect(low).toBeLessThanOrEqual(typical)
    expect(typical).toBeLessThanOrEqual(high)
  }
  expect(dosing.onset.low).toBeLessThanOrEqual(dosing.onset.high)
  expect(dosing.onset.low).toBeLessThan(dosing.peak.typical)
  expect(dosing.peak.high).toBeLessThan(dosing.halfLife.high)
  expect(dosing.retests.days).toEqual(dosing.retests.days.toSorted((a, b) => a - b))
  expect(dosing.caps.length).toBeGreaterThan(0)
  for (const { gM2 } of dosing.caps) expect(gM2).toBeGreaterThan(0)
  // Nothing stronger than what its label can say of it at the most.
  expect(dosing.acts.high).toBeLessThanOrEqual(dosing.label.perWhole * 1.35 + 1e-9)
})

test.each(DOSINGS)(
  '$slug: cautions cover body, weather, plants, family, store and label',
  ({ slug, cautions }) => {
    for (const { text, source } of cautions) {
      expect(sourceById(source).publisher).not.toBe('')
      expect(text).toMatch(/^[A-Z].*\.$/)
      expect(text).not.toMatch(/\b[AMBV]\d\d\b/)
    }
    const all = cautions.map(({ text }) => text.toLowerCase()).join(' ')
    for (const word of [
      'gloves',
      'goggles',
      'mask',
      'still day',
      'leaves',
      'water it in',
      'children and pets',
      'store it dry',
      'never mix',
      'product label',
      'local extension service',
      'eat',
    ]) {
      expect(all, `${slug}: ${word}`).toContain(word)
    }
    expect(new Set(cautions.map(({ text }) => text)).size).toBe(cautions.length)
  },
)

test('strengths against their sources', () => {
  const acts = (slug: string) => dosingOf(slug)!.acts
  // UNL_CCE: pure carbonate 100 %, hydrated lime 135 %; CLEM_BYPROD: at least 110 %.
  expect(acts('ground-limestone')).toMatchObject({ low: 0.8, typical: 0.9, high: 1 })
  expect(acts('hydrated-lime')).toMatchObject({ low: 1.1, high: 1.35 })
  // FERT_ACID: dolomite 95 to 109, wood ash 60, ammonium sulfate 110 lb of acidity for 100 lb.
  expect([acts('dolomitic-limestone').low, acts('dolomitic-limestone').high]).toEqual([0.95, 1.09])
  expect(acts('wood-ash').low).toBeLessThan(0.6)
  expect(acts('wood-ash').high).toBeGreaterThan(0.6)
  expect(acts('ammonium-sulfate').typical).toBe(1.1)
  // Formula masses, IUPAC: CaCO3 100.09, S 32.06, FeSO4.7H2O 278.01, Al2(SO4)3.18H2O 666.4, Fe 55.845, Al 26.982.
  expect(acts('sulfur').high).toBeCloseTo(100.09 / 32.06, 2)
  expect(acts('iron-sulfate').typical).toBeCloseTo(100.09 / 278.01, 3)
  expect(acts('aluminum-sulfate').typical).toBeCloseTo((3 * 100.09) / 666.4, 3)
  expect(dosingOf('iron-sulfate')!.label.perWhole).toBeCloseTo(100.09 / 55.845, 3)
  expect(dosingOf('aluminum-sulfate')!.label.perWhole).toBeCloseTo((1.5 * 100.09) / 26.982, 3)
  // 20.1 % iron in the salt with seven waters is as strong by its label as by its formula.
  expect(0.2009 * dosingOf('iron-sulfate')!.label.perWhole).toBeCloseTo(
    acts('iron-sulfate').typical,
    3,
  )
  // Printed 6 (ILL_ALUM) and 8 (RHS_ACID) times as much as sulfur lie inside.
  expect(acts('iron-sulfate').high).toBeCloseTo(3.12 / 6, 9)
  expect(3.12 / 8).toBeGreaterThan(acts('iron-sulfate').low)
})

test('caps are the printed ones', () => {
  const caps = (slug: string) =>
    dosingOf(slug)!.caps.map(({ gM2, per, when, source }) => [
      source,
      per,
      when,
      Math.round(gM2 * 10) / 10,
    ])
  expect(caps('ground-limestone')).toContainEqual(['PSU_HG', 'application', null, 488.2])
  expect(caps('wood-ash')).toEqual([['ASH1991', 'year', null, 97.6]])
  expect(caps('sulfur')).toEqual([
    ['EXT_BLUE', 'year', 'standing', 34.2],
    ['CLEM_ACID', 'application', 'cool', 48.8],
    ['ISU_NAFEX', 'application', null, 97.6],
    ['UME254', 'year', null, 112.1],
  ])
  expect(caps('iron-sulfate')).toContainEqual(['REEVES_FE', 'application', null, 244.1])
  expect(caps('ammonium-sulfate')[0]).toEqual(['MEM', 'application', null, 49])
  // Half the limestone figure times 0.74.
  expect(dosingOf('hydrated-lime')!.caps[0]!.gM2).toBeCloseTo((10 * LB_100 * 0.74) / 2, 1)
})

/** Home garden notes of the Penn State laboratory (PSU_HG): 10 lb/100 sq ft at once, 11 to 20 twice, from 21 thrice. */
test.each([
  [5, 1],
  [10, 1],
  [15, 2],
  [20, 2],
  [24, 3],
])('%d lb/100 sq ft of limestone go on in %d portions', (lb, portions) => {
  const cap = dosingOf('ground-limestone')!.caps.find(({ per }) => per === 'application')!.gM2
  expect(Math.ceil((lb * LB_100) / cap - 1e-9)).toBe(portions)
})

test('a weaker limestone takes more of it: 5 lb at 70 % are 7 lb (PSU_HG)', () => {
  expect(5 / (0.7 * dosingOf('ground-limestone')!.label.perWhole)).toBeCloseTo(7.14, 2)
})

test('how long: waits, re-tests and the cold', () => {
  const waits = Object.fromEntries(DOSINGS.map(({ slug, wait }) => [slug, wait.days]))
  expect(waits).toMatchObject({
    'ground-limestone': 90,
    'dolomitic-limestone': 90,
    'wood-ash': 90,
    sulfur: 90,
    'iron-sulfate': 45,
  })
  expect(dosingOf('sulfur')!.leastSoilC?.value).toBe(10)
  expect(DOSINGS.filter(({ leastSoilC }) => leastSoilC !== null)).toHaveLength(1)
  expect(dosingOf('ground-limestone')!.retests.days).toEqual([90, 180, 365])
  expect(dosingOf('sulfur')!.retests.days).toEqual([90, 180, 365])
  expect(dosingOf('ground-limestone')!.peak).toMatchObject({ low: 86, typical: 136 })
  // Most of the rise has come by the day of the peak.
  for (const { slug, rise, peak } of DOSINGS) {
    expect(1 - Math.exp(-peak.typical / rise.typical), slug).toBeGreaterThan(0.85)
  }
})

test('materials without an amount published say so', () => {
  expect(dosingOf('hydrated-lime')!.cautions[0]!.text).toMatch(/not advised/i)
  expect(
    dosingOf('aluminum-sulfate')!
      .cautions.map(({ text }) => text)
      .join(' '),
  ).toMatch(/hydrangeas.*food/s)
})

test('the figures plans go by', () => {
  const all = new Map(Object.entries(LIMITS))
  const value = (name: keyof typeof LIMITS): number => {
    const found = all.get(name)
    return typeof found === 'object' && 'value' in found ? found.value : NaN
  }
  for (const [name, found] of all) {
    if (typeof found === 'function') continue
    expect(sourceById(found.source).publisher, name).not.toBe('')
    expect(found.note, name).not.toBe('')
  }
  expect(value('LEAST_VALID_DAYS')).toBe(10)
  expect(value('CONFIRM_DAYS')).toBe(60)
  expect(value('BAND_TOLERANCE_PH')).toBe(0.2)
  expect(value('PER_APPLICATION_PH')).toBe(0.5)
  expect(value('PER_YEAR_PH')).toBe(1)
  expect(value('HARD_CAP_PH')).toBe(1)
  expect(value('OPPOSITE_DAYS')).toBe(180)
  expect(value('FREE_LIME_PH')).toBe(7.5)
  expect(value('OVERSHOOT_RATIO')).toBe(1.5)
  expect(value('ASH_YEAR_G_M2')).toBeCloseTo(20 * LB_1000, 6)
  // AGVISE_S: 1 % of 2,000,000 lb an acre is 20,000 lb of carbonate; 6,400 lb of sulfur, 717 g/m2.
  expect((20_000 / value('CARBONATE_PER_SULFUR')) * 0.1120851).toBeGreaterThan(711)
  expect((20_000 / value('CARBONATE_PER_SULFUR')) * 0.1120851).toBeLessThan(723)
  expect(value('FREE_LIME_SULFUR_G_M2')).toBe(717)
  // PSU_AGRON: 1000 lb an acre to pH 7, 840 to 6.5, for each meq/100 g.
  expect(value('ACIDITY_TO_PH_7_G_M2')).toBeCloseTo(1000 * 0.1120851, 4)
  expect(value('ACIDITY_TO_PH_6_5_G_M2')).toBeCloseTo(840 * 0.1120851, 3)
})

test('a bed sinks by itself as far as lime losses at Rothamsted and Woburn say', () => {
  // Bolton 1977: 225 to 852 kg/ha a year; Scott 2001 saw 0.058 and Li 2010 0.1 pH a year in the field.
  const loam = LIMITS.declinePerYear('loam')!
  expect(loam.low).toBeCloseTo(0.058, 3)
  expect(loam.high).toBeCloseTo(0.218, 3)
  expect(LIMITS.declinePerYear('sand')!.low).toBeCloseTo(0.102, 3)
  expect(LIMITS.declinePerYear('sand')!.high).toBeCloseTo(0.387, 3)
  expect(LIMITS.declinePerYear('clay loam')!.high).toBeCloseTo(0.166, 3)
  expect(loam.typical).toBeGreaterThan(0.1)
  expect(loam.typical).toBeLessThan(0.13)
  for (const texture of TEXTURES) {
    const decline = LIMITS.declinePerYear(texture)
    if (texture === 'raised-bed mix') expect(decline).toBeNull()
    else expect(decline!.low).toBeLessThan(decline!.high)
  }
})
