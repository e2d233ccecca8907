import { expect, test } from 'vitest'
import { amendmentAnswers } from '#hub/analysis/amendment/amendment-answers.ts'
import { doseGroups } from '#hub/analysis/amendment/dose-groups.ts'
import { responseAt } from '#hub/analysis/amendment/response-shape.ts'
import { DAY } from '#hub/model/clock.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import { dailyOf, noise, SERIES_START_MS } from '../../../score/series.ts'

const weekAt = (week: number): number => SERIES_START_MS + week * 7 * DAY

test('portions of one material within three weeks are one treatment, in the order of time', () => {
  const groups = doseGroups([
    { id: 3, at: 30 * DAY, material: 'ground limestone' },
    { id: 1, at: 0, material: 'lime' },
    { id: 2, at: 14 * DAY, material: 'Garden lime' },
    { id: 4, at: 15 * DAY, material: 'sulfur' },
    { id: 5, at: 16 * DAY, material: 'gypsum' },
    { id: 6, at: 17 * DAY, material: 'Bone meal' },
    { id: 7, at: 18 * DAY, material: ' bone meal' },
  ])
  expect(groups.map(({ ids }) => ids)).toEqual([[1, 2], [4], [5], [6, 7], [3]])
  expect(groups.map(({ moves }) => moves)).toEqual([true, true, false, true, true])
})

const SHAPE = { lagDays: 5, riseHalfDays: 12, returnHalfDays: 150 }
const random = seededRandom(71)
const WEEKS = 140
const shared = noise(random, WEEKS, 0.08, 0.7)
const fuzz = noise(random, WEEKS, 0.03, 0.5)
const treated = dailyOf(
  shared.map((value, week) => {
    const since = (dose: number): number => responseAt(SHAPE, (week - dose) * 7 + 3.5)
    return 6 + value + fuzz[week]! + 0.6 * since(40) - 0.5 * since(90)
  }),
)
const control = dailyOf(shared.map((value) => 6.3 + value))
const DOSES = [
  { id: 1, at: weekAt(40), material: 'lime' },
  { id: 2, at: weekAt(41), material: 'lime' },
  { id: 3, at: weekAt(90), material: 'sulfur' },
  { id: 4, at: weekAt(200), material: 'lime' },
]

test('every entry up to now has both answers where a control exists, portions share theirs', () => {
  const all = amendmentAnswers(treated, control, DOSES, { at: weekAt(WEEKS), controls: ['Kale'] })
  expect(all.map(({ id }) => id)).toEqual([1, 2, 3])
  for (const { answers } of all) {
    expect(answers.map(({ question }) => question)).toEqual([
      'advantage over untreated',
      'above where it was',
    ])
  }
  expect(all[0]!.answers).toEqual(all[1]!.answers)
  expect(all[0]!.answers[0]!.grounds.join(' ')).toMatch(/in 2 portions/)
  expect(all[0]!.answers[0]!.sentence).toMatch(/against Kale/)
  // Lime up, sulfur down, each freed of the other.
  expect(Math.abs(all[0]!.answers[0]!.peak!.value! - 0.6)).toBeLessThan(0.1)
  expect(Math.abs(all[2]!.answers[0]!.peak!.value! + 0.5)).toBeLessThan(0.1)
  const alone = amendmentAnswers(treated, null, DOSES, { at: weekAt(WEEKS) })
  expect(alone[0]!.answers.map(({ question }) => question)).toEqual(['above where it was'])
})

test('curve and points of a dose share time and scale', () => {
  const [first] = amendmentAnswers(treated, control, DOSES, { at: weekAt(WEEKS) })
  const { curve, points, present, peak } = first!.answers[0]!
  expect(curve!.value[0]).toBe(0)
  expect(Math.max(...curve!.value)).toBeCloseTo(peak!.value!, 1)
  for (const [i, value] of curve!.value.entries()) {
    expect(curve!.low[i]).toBeLessThanOrEqual(value + 1e-12)
    expect(curve!.high[i]).toBeGreaterThanOrEqual(value - 1e-12)
  }
  expect(present!.value).toBeCloseTo(curve!.value.at(-1)!, 1)
  const apart = Array.from(points!.time, (time, i) => {
    const nearest = Math.min(
      curve!.time.length - 1,
      Math.max(0, Math.round((time - curve!.time[0]!) / (7 * DAY))),
    )
    return Math.abs(points!.value[i]! - curve!.value[nearest]!)
  })
  expect(apart.toSorted((a, b) => a - b)[Math.floor(0.9 * apart.length)]).toBeLessThan(0.1)
})

test('two materials within three weeks are said not to be told apart', () => {
  const [lime] = amendmentAnswers(
    treated,
    control,
    [DOSES[0]!, { id: 9, at: weekAt(42), material: 'wood ash' }],
    { at: weekAt(85) },
  )
  expect(lime!.answers[0]!.grounds.join(' ')).toMatch(/wood ash went on within three weeks/)
})
