import { describe, expect, test } from 'vitest'
import type { Decision } from '#hub/api/schemas/planning.ts'
import { bandStripShape } from '../../dashboard/src/parts/plan/band-strip-shape.ts'
import {
  canDraft,
  describedAs,
  draftTold,
  headline,
  missingOf,
  ownTold,
  waitsUntil,
  weightWords,
} from '../../dashboard/src/parts/plan/plan-words.ts'
import {
  ASKS,
  inventedDecision,
  inventedPlan,
  told,
  undecided,
} from '../support/planning-fixture.ts'

const NOW = Date.UTC(2026, 5, 1)
const known = inventedDecision(1, NOW)

describe('the answer at the top', () => {
  const needing = (change: Partial<Decision['need']>): Decision => ({
    ...known,
    need: { ...known.need, ...change },
  })
  test.each([
    [known, 'Raise it by 0.6'],
    [needing({ verdict: 'lower', change: -0.44 }), 'Lower it by 0.4'],
    [undecided(1, NOW), 'Raise it by 0.6, but not yet'],
    [needing({ verdict: 'none', change: 0 }), 'It needs nothing'],
    [needing({ verdict: 'cannot tell' }), 'Measure first'],
    [needing({ verdict: 'no band' }), 'It has no band yet'],
    [{ ...known, running: inventedPlan(1, NOW) }, 'A plan is at work'],
    [{ ...known, running: inventedPlan(1, NOW, { verdict: 'not begun' }) }, 'A plan is ready'],
    [{ ...known, running: inventedPlan(1, NOW, { stop: 'reached' }) }, 'It has arrived'],
    [{ ...known, running: inventedPlan(1, NOW, { stop: 'stopped' }) }, 'Stop here'],
  ] as const)('%#', (decision, words) => {
    expect(headline(decision, 'metric')).toBe(words)
  })
})

test('what is missing is what is asked for, waited for or refused', () => {
  expect(missingOf(undecided(1, NOW).need)).toEqual(ASKS)
  expect(missingOf(known.need)).toEqual([])
})

describe('of a material', () => {
  test('what holds for the whole bed is not said again', () => {
    const { need, options } = undecided(1, NOW)
    expect(ownTold(options[0]!, need)).toEqual([])
    expect(ownTold(known.options[0]!, known.need)).toHaveLength(1)
  })
  test('a draft says again what limits it, and not what is only good to know', () => {
    const option = {
      told: [
        told({ effect: 'limit', sentence: 'At most so much.' }),
        told({ sentence: 'By the way.' }),
      ],
    }
    const draft = { told: [...option.told, told({ sentence: 'New.' })] }
    expect(draftTold(draft, option, { told: [] }).map(({ sentence }) => sentence)).toEqual([
      'At most so much.',
      'New.',
    ])
  })
  test('it waits until the last of its waits, without a date where one has none', () => {
    const wait = (until: number | null) => told({ effect: 'wait', until })
    expect(waitsUntil({ told: [wait(NOW), wait(NOW + 5), told()] })).toBe(NOW + 5)
    expect(waitsUntil({ told: [wait(NOW), wait(null)] })).toBeNull()
    expect(waitsUntil({ told: [told()] })).toBeNull()
  })
  test('a plan is drawn up where there is a dose', () => {
    expect(known.options.map(canDraft)).toEqual([true, false, false])
    expect(canDraft({ ...known.options[0]!, verdict: 'wait' })).toBe(true)
    expect(canDraft({ ...known.options[0]!, verdict: 'refused' })).toBe(false)
  })
})

test.each([
  [1, 'all of it'],
  [0.72, 'counts most'],
  [0.5, 'counts much'],
  [0.28, 'counts a little'],
  [0.02, 'hardly counts'],
])('a share of %d %s', (weight, words) => {
  expect(weightWords(weight)).toBe(words)
})

describe('the strip', () => {
  test('value, band, aim and every published band lie on it in their order', () => {
    const shape = bandStripShape(known.need)!
    expect(shape.low).toBeLessThanOrEqual(5.2)
    expect(shape.high).toBeGreaterThanOrEqual(7.2)
    expect(shape.value!.left).toBeLessThan(shape.value!.x)
    expect(shape.value!.right).toBeLessThan(shape.band!.left)
    expect(shape.target).toBeGreaterThan(shape.band!.left)
    expect(shape.target).toBeLessThan(shape.band!.right)
    expect(shape.published.map(({ crop }) => crop)).toEqual(['Carrot', 'Carrot', 'Lettuce'])
  })
  test('an end that a source leaves open reaches to the edge', () => {
    expect(bandStripShape(known.need)!.published[1]!.right).toBe(100)
  })
  test('every mark is on the paper', () => {
    const { ticks } = bandStripShape({ ...known.need, ph: { value: 4, low: 3.6, high: 4.4 } })!
    for (const { x } of ticks) expect(x >= 0 && x <= 100).toBe(true)
    expect(ticks[0]!.ph).toBeLessThanOrEqual(3.6)
  })
  test('nothing known, nothing drawn', () => {
    expect(bandStripShape({ ph: null, band: null, crops: [], target: null })).toBeNull()
  })
})

test('a bed described anew is another one to decide about; its newest readings are not', () => {
  const bed = {
    areaM2: 2,
    depthM: 0.3,
    texture: 'loam' as const,
    crops: [{ slug: 'carrot', name: 'Carrot' }],
    ownBand: null,
  }
  const same = describedAs(bed)
  expect(describedAs({ ...bed, ...{ assessedAt: 5 } })).toBe(same)
  for (const change of [
    { areaM2: 0.2 },
    { depthM: 0.03 },
    { texture: 'clay' as const },
    { crops: [] },
    { ownBand: { low: 4, high: 5 } },
  ]) {
    expect(describedAs({ ...bed, ...change })).not.toBe(same)
  }
})
