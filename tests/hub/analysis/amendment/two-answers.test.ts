import { expect, test } from 'vitest'
import { amendmentEffect } from '#hub/analysis/amendment/amendment-effect.ts'
import type { DoseEffect } from '#hub/analysis/amendment/dose-effect.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import { DAY } from '#hub/model/clock.ts'
import { dailyOf, noise, SERIES_START_MS } from '../../../score/series.ts'

/**
 * Woburn Continuous Barley and Wheat (Glendining, Rothamsted Research 2022, doi 10.23637/wxb6-soil7632-01 and
 * wxw6-soil7632-01, CC BY 4.0), in figures: 5 t/ha of lime raised a sandy loam by about 1.0 pH; the limed plot was
 * back at its starting pH after 8.8 years, because the unlimed plots fell as well, while the advantage over them
 * hardly decayed. The plots were sampled a few times in decades: weekly values with that course are generated.
 */
const GAIN_PH = 1
const BACK_YEARS = 8.8
const YEAR_WEEKS = 52.18

function woburn(seed: number): { limed: Float64Array; unlimed: Float64Array } {
  const random = seededRandom(seed)
  const weeks = WEEKS_BEFORE + WEEKS_AFTER
  const own = noise(random, weeks, 0.05, 0.6)
  const other = noise(random, weeks, 0.05, 0.6)
  const shared = noise(random, weeks, 0.05, 0.7)
  const fall = (week: number): number =>
    (-GAIN_PH / BACK_YEARS) * Math.max(0, (week - WEEKS_BEFORE) / YEAR_WEEKS)
  return {
    limed: own.map((value, week) => {
      const days = (week - WEEKS_BEFORE) * 7 + 3
      const gain = days <= 0 ? 0 : GAIN_PH * (1 - 2 ** (-days / 40))
      return 5.4 + value + shared[week]! + fall(week) + gain
    }),
    unlimed: other.map((value, week) => 5.4 + value + shared[week]! + fall(week)),
  }
}
const WEEKS_BEFORE = 52
const WEEKS_AFTER = Math.round(6 * YEAR_WEEKS)
const DOSE_AT = SERIES_START_MS + WEEKS_BEFORE * 7 * DAY
const AT = SERIES_START_MS + (WEEKS_BEFORE + WEEKS_AFTER) * 7 * DAY

function only(effect: ReturnType<typeof amendmentEffect>): DoseEffect {
  if (effect.status !== 'ok' || effect.doses.length !== 1) throw new Error('expected one effect')
  return effect.doses[0]!
}

test.each([1, 2, 3])('back where it was is one thing, the advantage another (seed %i)', (seed) => {
  const { limed, unlimed } = woburn(seed)
  const dose = [{ id: 1, at: DOSE_AT, material: 'ground limestone' }]
  const alone = only(amendmentEffect(dailyOf(limed), null, dose, { at: AT }))
  const held = only(amendmentEffect(dailyOf(limed), dailyOf(unlimed), dose, { at: AT }))
  expect(alone.question).toBe('above where it was')
  expect(held.question).toBe('advantage over untreated')
  expect(alone.verdict).toBe('effect')
  expect(held.verdict).toBe('effect')
  // The advantage is still all there after six years and has not turned.
  expect(held.present!.low!).toBeGreaterThan(0.85)
  expect(held.present!.high!).toBeLessThan(1.15)
  expect(held.halfLife.kind).toBe('at least')
  // Where it was: two thirds of the gain are gone by then, half of it after 4.4 years.
  expect(alone.present!.value!).toBeGreaterThan(0.1)
  expect(alone.present!.value!).toBeLessThan(0.5)
  expect(alone.halfLife.kind).toBe('known')
  if (alone.halfLife.kind !== 'known') return
  expect(alone.halfLife.days.low! / 365).toBeLessThan(4.4)
  expect(alone.halfLife.days.high! / 365).toBeGreaterThan(3.3)
})
