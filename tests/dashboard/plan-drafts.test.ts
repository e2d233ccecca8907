import { describe, expect, test } from 'vitest'
import { soilInput, soilTestInput, stageInput } from '#hub/api/schemas/planning.ts'
import { fitted } from '../../dashboard/src/parts/plan/photo.ts'
import { soilDraft, soilOf } from '../../dashboard/src/parts/plan/soil-draft.ts'
import {
  jarDraft,
  jarTestOf,
  laboratoryDraft,
  laboratoryTestOf,
  withJar,
} from '../../dashboard/src/parts/plan/soil-test-draft.ts'
import { stageDraft, stageOf } from '../../dashboard/src/parts/plan/stage-draft.ts'
import { labelStrength } from '../../dashboard/src/parts/plan/strength.ts'

const METRIC = { zone: 'Europe/Lisbon', units: 'metric' } as const
const US = { zone: 'America/Chicago', units: 'us' } as const
const AT = '2026-05-04T10:30'
const AT_MS = Date.UTC(2026, 4, 4, 9, 30)

describe('jars', () => {
  const filled = (phs: readonly string[]) => {
    const draft = jarDraft(AT)
    return { ...draft, rows: draft.rows.map((row, i) => ({ ...row, ph: phs[i] ?? '' })) }
  }
  test('lime is reckoned as pure carbonate by the label; jars that were not made are left out', () => {
    const draft = { ...filled(['5.6', '5.9', '', '6.5']), equivalent: '90' }
    const { test: made, errors } = jarTestOf(draft, METRIC)
    expect(errors).toEqual([])
    expect(soilTestInput.parse(made)).toMatchObject({
      kind: 'jar test',
      at: AT_MS,
      soilG: 500,
      jars: [
        { limeG: 0, ph: 5.6 },
        { limeG: 0.45, ph: 5.9 },
        { limeG: 1.8, ph: 6.5 },
      ],
    })
  })
  test('two jars are refused, and three with the same lime', () => {
    const two = jarTestOf(filled(['5.6', '5.9']), METRIC)
    expect(two.test).toBeNull()
    expect(two.errors).toEqual([
      { path: 'jars', message: 'expected at least three jars with their pH, got 2' },
    ])
    const same = filled(['5.6', '5.7', '5.6'])
    const rows = same.rows.map((row) => ({ ...row, lime: '1' }))
    expect(jarTestOf({ ...same, rows }, METRIC).errors[0]?.message).toContain('different amounts')
  })
  test('what is no number is named beside its jar', () => {
    const draft = filled(['5.6', '5,9', 'six', '6.8'])
    expect(jarTestOf(draft, METRIC).errors).toEqual([
      { path: 'jars.2.ph', message: "expected a number, got 'six'" },
    ])
    const noLime = { ...draft, rows: withJar(filled(['5.6', '5.9', '6.2']).rows) }
    const withPh = noLime.rows.map((row, i) => (i === 5 ? { ...row, ph: '7' } : row))
    expect(jarTestOf({ ...noLime, rows: withPh }, METRIC).errors).toEqual([
      { path: 'jars.5.limeG', message: 'give a number' },
    ])
  })
})

describe('a laboratory’s figure', () => {
  test('an advice in pounds for six inches comes to SI', () => {
    const draft = {
      ...laboratoryDraft(AT, 'us'),
      amount: '100',
      equivalent: '90',
      depth: '6',
      fromPh: '5.4',
      toPh: '6.5',
    }
    const { test: made, errors } = laboratoryTestOf(draft, US)
    expect(errors).toEqual([])
    const sent = soilTestInput.parse(made)
    if (sent.kind !== 'lime requirement') throw new Error(`got a ${sent.kind}`)
    expect(sent.limeGM2).toBeCloseTo(439.419, 2)
    expect(sent.depthM).toBeCloseTo(0.1524, 10)
  })
  test('exchangeable acidity asks for its own fields alone', () => {
    const draft = { ...laboratoryDraft(AT, 'metric'), says: 'exchangeable acidity' as const }
    expect(laboratoryTestOf(draft, METRIC).errors.map(({ path }) => path)).toEqual([
      'meqPer100G',
      'ph',
    ])
    const { test: made } = laboratoryTestOf({ ...draft, acidity: '3,5', ph: '5.2' }, METRIC)
    expect(soilTestInput.parse(made)).toMatchObject({ meqPer100G: 3.5, ph: 5.2 })
  })
  test('a carbonate equivalent of a share instead of per cent is refused', () => {
    const draft = { ...laboratoryDraft(AT, 'metric'), equivalent: '0.9' }
    expect(laboratoryTestOf(draft, METRIC).errors).toContainEqual({
      path: 'equivalent',
      message: 'expected per cent from 1 to 200, got 0.9',
    })
  })
})

describe('the soil', () => {
  const before = { bulkDensity: 612.345678, planting: 'bare', hardWater: null } as const
  test('what was not touched keeps its digits; nothing said stays nothing', () => {
    const { soil, errors } = soilOf(soilDraft(before, 'us'), before, 'us')
    expect(errors).toEqual([])
    expect(soilInput.parse(soil)).toEqual(before)
  })
  test('grams in a litre, ounces in a quart', () => {
    const metric = { ...soilDraft(before, 'metric'), density: '700', water: 'hard' as const }
    expect(soilOf(metric, before, 'metric').soil).toMatchObject({
      bulkDensity: 700,
      hardWater: true,
    })
    // 28.349523125 g in 0.946352946 L: NIST Handbook 44, appendix C.
    const us = { ...soilDraft(before, 'us'), density: '20' }
    expect(soilOf(us, before, 'us').soil.bulkDensity).toBeCloseTo(599.13, 2)
  })
  test('an empty density is judged by texture, a wrong one is named', () => {
    const empty = soilOf({ ...soilDraft(before, 'metric'), density: ' ' }, before, 'metric')
    expect(empty.soil.bulkDensity).toBeNull()
    const wrong = soilOf({ ...soilDraft(before, 'metric'), density: 'heavy' }, before, 'metric')
    expect(wrong.errors).toEqual([
      { path: 'bulkDensity', message: "expected a number, got 'heavy'" },
    ])
  })
})

describe('a portion', () => {
  test('what stands in the field is what is written down', () => {
    const draft = stageDraft(612.4, AT_MS, METRIC)
    expect(draft).toEqual({ at: AT, amount: '612', text: '' })
    const { body, errors } = stageOf(draft, METRIC)
    expect(errors).toEqual([])
    expect(stageInput.parse(body)).toEqual({ at: AT_MS, amountG: 612, text: '' })
  })
  test('in ounces', () => {
    const draft = stageDraft(612.4, AT_MS, US)
    expect(draft.amount).toBe('21.6')
    expect(stageOf(draft, US).body.amountG).toBeCloseTo(612.35, 2)
  })
  test('no amount, none at all and no time are refused', () => {
    const draft = stageDraft(600, AT_MS, METRIC)
    expect(stageOf({ ...draft, amount: '' }, METRIC).errors).toHaveLength(1)
    expect(stageOf({ ...draft, amount: '0' }, METRIC).errors[0]?.message).toContain('more than 0')
    expect(stageOf({ ...draft, at: 'today' }, METRIC).errors[0]?.path).toBe('at')
  })
})

test('a strength from the label, as usual when nothing is given', () => {
  expect(labelStrength('', 3.12)).toEqual({ strength: null, error: null })
  expect(labelStrength('90', 3.12).strength).toBeCloseTo(2.808, 10)
  expect(labelStrength('0', 1).strength).toBeNull()
  expect(labelStrength('much', 1).error).toBe("expected per cent from 1 to 200, got 'much'")
})

test('a photo is never enlarged, and its longest side bounded', () => {
  expect(fitted(4000, 3000)).toEqual({ width: 1600, height: 1200 })
  expect(fitted(3000, 4000)).toEqual({ width: 1200, height: 1600 })
  expect(fitted(640, 480)).toEqual({ width: 640, height: 480 })
  expect(fitted(9000, 1)).toEqual({ width: 1600, height: 1 })
})
