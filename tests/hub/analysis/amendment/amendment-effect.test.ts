import { expect, test } from 'vitest'
import type { DailySeries } from '#hub/analysis/aggregate/daily-series.ts'
import { amendmentEffect } from '#hub/analysis/amendment/amendment-effect.ts'
import type { DoseEffect } from '#hub/analysis/amendment/dose-effect.ts'
import { responseAt } from '#hub/analysis/amendment/response-shape.ts'
import { DAY } from '#hub/model/clock.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import {
  dailyOf,
  noise,
  RESPONSE_CASES,
  responseSeries,
  SERIES_START_MS,
} from '../../../score/series.ts'

const LIME = { id: 1, material: 'ground limestone' }

function effects(result: ReturnType<typeof amendmentEffect>): readonly DoseEffect[] {
  if (result.status !== 'ok') throw new Error(`expected effects, got ${result.have}`)
  return result.doses
}

/** Case `index` of the generator, and what is said of its one dose. */
function tried(index: number, seed: string) {
  const made = responseSeries(seededRandom(4100).split(seed), RESPONSE_CASES[index]!)
  const dose = [{ ...LIME, at: made.doseAt }]
  const [effect] = effects(amendmentEffect(made.treated, made.control, dose, { at: made.endAt }))
  return { ...made, effect: effect! }
}

const RUNS = 24

test.each([
  [0, 0.85, 0.25, 0.6],
  [1, 0.8, 0.25, 0.65],
  [2, 0.85, 0.25, 0.6],
  [3, 0.75, 0.3, 0.65],
])(
  'half-life of case %i is near the truth and its interval holds it',
  (index, held, half, most) => {
    let covered = 0
    const errors: number[] = []
    for (let run = 0; run < RUNS; run++) {
      const { effect, truth } = tried(index, `half ${index} ${run}`)
      expect(effect.verdict).toBe('effect')
      expect(Math.sign(effect.peak!.value!)).toBe(Math.sign(truth.peakPh))
      if (effect.halfLife.kind !== 'known') continue
      const { value, low, high } = effect.halfLife.days
      if (low! <= truth.halfDays && truth.halfDays <= high!) covered++
      errors.push(Math.exp(Math.abs(Math.log(value! / truth.halfDays))) - 1)
    }
    errors.sort((a, b) => a - b)
    expect(errors.length).toBeGreaterThan(0.8 * RUNS)
    expect(covered / errors.length).toBeGreaterThanOrEqual(held)
    expect(errors[Math.floor(0.5 * errors.length)]).toBeLessThanOrEqual(half)
    expect(errors[Math.floor(0.9 * errors.length)]).toBeLessThanOrEqual(most)
  },
)

test('what has not turned is said to stay at least so long, and that is true', () => {
  let said = 0
  for (let run = 0; run < RUNS; run++) {
    const { effect, truth } = tried(4, `turned ${run}`)
    expect(effect.halfLife.kind).not.toBe('known')
    if (effect.halfLife.kind !== 'at least') continue
    said++
    expect(effect.halfLife.days).toBeLessThanOrEqual(truth.halfDays)
  }
  expect(said / RUNS).toBeGreaterThanOrEqual(0.9)
})

test.each([
  ['with a control', true, 13],
  ['without one', false, 26],
])('noise alone is not taken for an effect %s', (_, control, before) => {
  const random = seededRandom(4200)
  const runs = 60
  let none = 0
  for (let run = 0; run < runs; run++) {
    const own = random.split(`null ${control} ${run}`)
    const weeks = before + 60
    const a = noise(own, weeks, 0.07, 0.6)
    const b = noise(own, weeks, 0.07, 0.6)
    const shared = noise(own, weeks, 0.08, 0.7)
    const at = SERIES_START_MS + before * 7 * DAY
    const [effect] = effects(
      amendmentEffect(
        dailyOf(a.map((v, week) => 6 + v + shared[week]!)),
        control ? dailyOf(b.map((v, week) => 6.2 + v + shared[week]!)) : null,
        [{ ...LIME, at }],
        { at: SERIES_START_MS + weeks * 7 * DAY },
      ),
    )
    if (effect!.verdict !== 'no measurable effect') continue
    none++
    expect(effect!.notLargerThan).toBeGreaterThan(0)
    expect(effect!.sentence).toMatch(/not larger than \d\.\d\d pH/)
  }
  expect(none / runs).toBeGreaterThanOrEqual(0.93)
})

test('a constant on both beds changes nothing; a constant on one changes only the level', () => {
  const { treated, control, doseAt, endAt, effect } = tried(2, 'constant')
  const up = (series: DailySeries, by: number): DailySeries => ({
    ...series,
    value: series.value.map((v) => v + by),
  })
  for (const [one, other] of [
    [0.7, 0.7],
    [0.4, -0.3],
  ] as const) {
    const [again] = effects(
      amendmentEffect(up(treated, one), up(control!, other), [{ ...LIME, at: doseAt }], {
        at: endAt,
      }),
    )
    expect(again!.peak!.value).toBeCloseTo(effect.peak!.value!, 6)
    expect(again!.sentence).toBe(effect.sentence)
  }
})

/** A bed and its control, doses of half a pH unit at the given weeks, next to no noise. */
function dosed(weeks: number, doseWeeks: readonly number[], sizes: readonly number[]) {
  const random = seededRandom(4300)
  const shape = { lagDays: 7, riseHalfDays: 14, returnHalfDays: 200 }
  const shared = noise(random, weeks, 0.08, 0.7)
  const fuzz = noise(random, weeks, 0.02, 0.4)
  const at = (week: number): number => SERIES_START_MS + week * 7 * DAY
  return {
    at,
    treated: dailyOf(
      shared.map((v, week) => {
        let value = 6 + v + fuzz[week]!
        for (const [i, dose] of doseWeeks.entries()) {
          value += sizes[i]! * responseAt(shape, (week - dose) * 7 + 3.5)
        }
        return value
      }),
    ),
    control: dailyOf(shared.map((v) => 6.3 + v)),
  }
}

test('two doses of one material are told apart, each with its own size', () => {
  const { at, treated, control } = dosed(150, [20, 70], [0.5, 0.9])
  const [one, two] = effects(
    amendmentEffect(
      treated,
      control,
      [
        { id: 7, at: at(20), material: 'lime' },
        { id: 8, at: at(70), material: 'garden lime' },
      ],
      { at: at(150) },
    ),
  )
  expect(one!.ids).toEqual([7])
  expect(two!.ids).toEqual([8])
  expect(Math.abs(one!.peak!.value! - 0.5)).toBeLessThan(0.08)
  expect(Math.abs(two!.peak!.value! - 0.9)).toBeLessThan(0.08)
  expect(one!.halfLife).toEqual(two!.halfLife)
})

test('sulfur lowers: the sign stays', () => {
  const { at, treated, control } = dosed(100, [20], [-0.6])
  const [effect] = effects(
    amendmentEffect(treated, control, [{ id: 1, at: at(20), material: 'sulfur' }], { at: at(100) }),
  )
  expect(effect!.peak!.high!).toBeLessThan(0)
  expect(effect!.sentence).toMatch(/lowered the pH/)
})

test('what is needed and what is there are told when there is too little', () => {
  const { at, treated, control } = dosed(60, [20], [0.6])
  const dose = [{ id: 1, at: at(20), material: 'lime' }]
  const said = (now: number, held: DailySeries | null): DoseEffect =>
    effects(amendmentEffect(treated, held, dose, { at: now }))[0]!
  const soon = said(at(25), control)
  expect(soon.verdict).toBe('insufficient')
  expect(soon.sentence).toContain('too early to say')
  expect(soon.sentence).toMatch(/5 weekly values after it/)
  // Six weeks for the onset, twelve for the peak.
  const later = said(at(28), control)
  expect(later.verdict).toBe('effect')
  expect(later.peakDays).toBeNull()
  expect(later.halfLife.kind).toBe('unknown')
  expect(said(at(34), control).peakDays).not.toBeNull()
  // Twenty weeks before will do with a control (90 days), not without (180 days).
  expect(said(at(50), control).verdict).toBe('effect')
  const alone = said(at(50), null)
  expect(alone.verdict).toBe('insufficient')
  // More days after it would not help.
  expect(alone.sentence).toContain('what it did cannot be told')
  expect(amendmentEffect(treated, control, [], { at: at(50) }).status).toBe('insufficient')
  expect(amendmentEffect(treated, control, dose, { at: at(19) }).status).toBe('insufficient')
})

test('a difference that was moving already is told', () => {
  const weeks = 100
  const random = seededRandom(4400)
  const fuzz = noise(random, weeks, 0.02, 0.4)
  const moving = dailyOf(fuzz.map((v, week) => 6 + v + 0.01 * week))
  const still = dailyOf(new Float64Array(weeks).fill(6))
  const at = SERIES_START_MS + 30 * 7 * DAY
  const [effect] = effects(
    amendmentEffect(moving, still, [{ ...LIME, at }], { at: SERIES_START_MS + weeks * 7 * DAY }),
  )
  expect(effect!.grounds.join(' ')).toMatch(/already moving before/)
})

test.each([
  ['sulfur', /does not agree: elemental sulfur is known to lower pH/],
  ['lime', /direction agrees: ground limestone is known to raise pH/],
  ['gypsum', /does not agree: gypsum is known to leave pH alone/],
  ['compost', /^(?!.*agree)/],
  ['seaweed', /^(?!.*agree)/],
])('a rise after %s is held against what the material is known to do', (material, words) => {
  const { at, treated, control } = dosed(100, [20], [0.6])
  const [effect] = effects(
    amendmentEffect(treated, control, [{ id: 1, at: at(20), material }], { at: at(100) }),
  )
  expect(effect!.verdict).toBe('effect')
  expect(effect!.grounds.join(' ')).toMatch(words)
})
