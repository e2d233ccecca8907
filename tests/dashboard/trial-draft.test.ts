import { describe, expect, test } from 'vitest'
import { trialInput } from '#hub/api/schemas/trial.ts'
import { emptyTrial, planOf, trialAbout, trialOf } from '../../dashboard/src/trial-draft.ts'

const now = Date.UTC(2026, 3, 10, 9, 30)
const zone = 'Europe/Lisbon'
const filled = {
  ...emptyTrial(now, zone),
  claim: '  coffee grounds sour the soil ',
  material: 'coffee grounds',
  leastEffect: '0,25',
  roles: { 1: 'treated', 2: 'untreated', 3: 'left out', 4: 'untreated' },
} as const

describe('a trial in the form', () => {
  test('reads as the hub takes it', () => {
    const { trial, errors } = trialOf(filled, zone)
    expect(errors).toEqual([])
    expect(trialInput.parse(trial)).toEqual({
      claim: 'coffee grounds sour the soil',
      material: 'coffee grounds',
      direction: 'lowers',
      leastEffect: 0.25,
      treated: [1],
      untreated: [2, 4],
      startsAt: now,
      days: 120,
    })
  })

  test('an empty one is told field by field', () => {
    const { errors } = trialOf({ ...emptyTrial(now, zone), leastEffect: 'some', days: '' }, zone)
    expect(errors.map(({ path }) => path).toSorted()).toEqual([
      'claim',
      'days',
      'leastEffect',
      'material',
      'treated',
      'untreated',
    ])
  })

  test('half a day is no length', () => {
    expect(trialOf({ ...filled, days: '30.5' }, zone).errors).toEqual([
      { path: 'days', message: 'give whole days' },
    ])
  })

  test('a plan does not wait for the words, but for the beds and the numbers', () => {
    const silent = planOf({ ...filled, claim: '', material: '' }, zone)
    expect(silent?.treated).toEqual([1])
    expect(trialInput.safeParse(silent).success).toBe(true)
    expect(planOf({ ...filled, roles: { 1: 'treated' } }, zone)).toBeNull()
    expect(planOf({ ...filled, leastEffect: '' }, zone)).toBeNull()
    expect(planOf({ ...filled, startsAt: '' }, zone)).toBeNull()
  })

  test('about a material it has a claim to begin with, which the hub would take', () => {
    const draft = trialAbout({ material: 'wood ash', direction: 'raises' }, now, zone)
    expect(draft).toMatchObject({
      claim: 'putting on wood ash raises the pH',
      material: 'wood ash',
      direction: 'raises',
    })
    const { trial, errors } = trialOf({ ...draft, roles: filled.roles }, zone)
    expect(errors).toEqual([])
    expect(trialInput.safeParse(trial).success).toBe(true)
    expect(trialAbout({ material: 'grit' }, now, zone).direction).toBe('changes')
  })
})
