import { describe, expect, test } from 'vitest'
import { study, studiedBed } from '#hub/analysis/study.ts'
import type { Bed } from '#hub/model/bed.ts'
import { DAY } from '#hub/model/clock.ts'
import type { JournalEntry } from '#hub/model/journal.ts'
import type { BedFacts } from '#hub/planning/bed-facts.ts'
import { bufferingOf } from '#hub/planning/buffering.ts'
import { needOf } from '#hub/planning/need.ts'
import { seededRandom } from '../../support/random.ts'
import { dailyNoise, DAY_ONE, spotDays } from '../../support/slow-series.ts'
import { factsOf, treated } from './facts.ts'

// The whole way from day rows: an invented bed that holds its pH as strongly as we say is limed, its days and those of
// an untreated neighbour go through the analysis, and the planner has to find out how strongly it holds its pH.

const DAYS = 900
const DOSE_DAY = 400
const GRAMS = 2000
/** Pure lime, g/m2 for one pH: a soil that holds its pH a good deal less than the tables for loam say. */
const TRUE_BUFFERING = 240
const AREA_M2 = 4
const STRENGTH = 0.9
const EFFECT = ((GRAMS / AREA_M2) * STRENGTH) / TRUE_BUFFERING

function measured(seed: number, effect: number): BedFacts {
  const random = seededRandom(seed)
  const season = (day: number): number => 0.1 * Math.sin((2 * Math.PI * day) / 365.25)
  const common = dailyNoise(random, DAYS, 0.06, 0.95)
  const rows = (level: number, change: (day: number) => number, id: number) => {
    const own = dailyNoise(random, DAYS, 0.05, 0.95)
    const spots = [0.1, -0.1].map((offset) => {
      const noise = dailyNoise(random, DAYS, 0.04, 0.5)
      return (day: number): number =>
        level + offset + season(day) + common[day]! + own[day]! + noise[day]! + change(day)
    })
    return spotDays(spots, DAYS, { bedId: id })
  }
  // Rises with a time constant of 45 days after two weeks and loses half in four years.
  const response = (day: number): number => {
    const since = day - DOSE_DAY - 14
    return since <= 0 ? 0 : effect * (1 - Math.exp(-since / 45)) * 2 ** (-since / 1460)
  }
  const at = DAY_ONE + DAYS * DAY
  const entry: JournalEntry = {
    id: 1,
    bedId: 1,
    at: DAY_ONE + DOSE_DAY * DAY,
    kind: 'treatment',
    material: 'garden lime',
    amountG: GRAMS,
    waterL: null,
    probe: null,
    ph: null,
    method: null,
    text: '',
  }
  const facts = factsOf({ at, journal: [entry], bed: { areaM2: AREA_M2 } })
  const other: Bed = { ...facts.bed, id: 2, name: 'Newt Bed' }
  const found = study(
    studiedBed(facts.bed, rows(5.4, response, 1), [entry]),
    [
      studiedBed(
        other,
        rows(6, () => 0, 2),
        [],
      ),
    ],
    { events: [], visits: new Map(), band: facts.bed.ownBand, yearFrom: at - 200 * DAY },
    at,
  )
  return { ...facts, study: found }
}

describe('buffering learned from a treatment that was measured', () => {
  const SEEDS = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10]
  const found = SEEDS.map((seed) => bufferingOf(measured(seed, EFFECT), 'raise')!)

  test('the treatment is found and weighs most', () => {
    for (const { parts } of found) {
      expect(parts[0]!.kind).toBe('treatments here')
      expect(parts[0]!.weight).toBeGreaterThan(0.5)
    }
  })

  test('its 90 % range holds the truth in nine of ten beds, about', () => {
    const inside = found.filter(({ parts }) => {
      const { low, high } = parts[0]!.gM2PerPh
      return low <= TRUE_BUFFERING && TRUE_BUFFERING <= high
    })
    expect(inside.length).toBeGreaterThanOrEqual(8)
  })

  test('the whole lies far nearer to the truth than the table', () => {
    for (const { gM2PerPh, parts } of found) {
      const table = parts.find(({ kind }) => kind === 'texture')!.gM2PerPh.typical
      const off = (value: number): number => Math.abs(Math.log(value / TRUE_BUFFERING))
      expect(off(gM2PerPh.typical)).toBeLessThan(0.6 * off(table))
    }
  })
})

test('a treatment that cannot be seen teaches nothing', () => {
  for (const seed of [1, 2, 3]) {
    const kinds = bufferingOf(measured(seed, 0), 'raise')!.parts.map(({ kind }) => kind)
    expect(kinds).toEqual(['texture'])
  }
})

test('the level of the bed is that of its last days', () => {
  const facts = measured(1, 0)
  const { ph, verdict } = needOf(facts, null)
  expect(ph!.days).toBe(14)
  expect(Math.abs(ph!.value - 5.4)).toBeLessThan(0.35)
  expect(ph!.low).toBeLessThan(5.4)
  expect(verdict).toBe('raise')
})

test('a bed that was treated a moment ago is the same to the planner however the gardener spells it', () => {
  const facts = measured(1, EFFECT)
  const words = ['garden lime', 'Garden Lime, fine', 'aglime'].map((material) => {
    const journal = [{ ...facts.journal[0]!, ...treated(material, 1, 500, facts.at), id: 9 }]
    return needOf({ ...facts, journal }, null).coming!.value
  })
  expect(new Set(words).size).toBe(1)
})
