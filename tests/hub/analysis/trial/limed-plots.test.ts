import { expect, test } from 'vitest'
import { amendmentEffect } from '#hub/analysis/amendment/amendment-effect.ts'
import { dailyMean } from '#hub/analysis/aggregate/weekly-medians.ts'
import { trialResult } from '#hub/analysis/trial/trial-result.ts'
import { DAY } from '#hub/model/clock.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import { dailyOf, noise, SERIES_START_MS } from '../../../score/series.ts'

/**
 * Topsoil pH of Woburn Continuous Barley, 1898 (before) and 1927 (after liming in 1898 to 1912), as published by
 * Glendining, Rothamsted Research 2022, doi 10.23637/wxb6-soil7632-01, CC BY 4.0.
 */
const LIMED = [
  ['2bi', 4.9, 5.8],
  ['2bii', 4.9, 5.8],
  ['5b', 5.0, 6.1],
  ['8aii', 5.2, 5.9],
  ['8bii', 5.2, 5.8],
] as const
const UNLIMED = [
  ['2ai', 4.9, 4.5],
  ['5ai', 5.0, 4.8],
  ['8ai', 5.2, 4.8],
  ['8bi', 5.2, 4.7],
] as const

function meanChange(plots: readonly (readonly [string, number, number])[]): number {
  return plots.reduce((sum, [, before, after]) => sum + after - before, 0) / plots.length
}

const BEFORE = 52
const AFTER = 80
const STARTS_AT = SERIES_START_MS + BEFORE * 7 * DAY
const AT = SERIES_START_MS + (BEFORE + AFTER) * 7 * DAY

// The plots were sampled once in decades: the weeks around the two published levels are generated.
const random = seededRandom(81)
const weather = noise(random, BEFORE + AFTER, 0.05, 0.7)
const series = ([plot, before, after]: readonly [string, number, number]) => {
  const own = noise(random.split(plot), BEFORE + AFTER, 0.04, 0.6)
  return dailyOf(own.map((v, week) => v + weather[week]! + (week < BEFORE ? before : after)))
}
const limed = LIMED.map(series)
const unlimed = UNLIMED.map(series)

test('the trial finds the difference of differences that the published plots show', () => {
  const apart = meanChange(LIMED) - meanChange(UNLIMED)
  expect(apart).toBeCloseTo(0.84 + 0.375, 9)
  const result = trialResult({
    treated: limed,
    untreated: unlimed,
    direction: 'raises',
    leastEffect: 0.3,
    startsAt: STARTS_AT,
    days: AFTER * 7,
    material: 'chalk',
    at: AT,
  })
  expect(result.verdict).toBe('supported')
  expect(Math.abs(result.effect!.value! - apart)).toBeLessThan(0.05)
  expect(result.effect!.low!).toBeLessThan(apart)
  expect(result.effect!.high!).toBeGreaterThan(apart)
  // Nine plots, five of them limed: 126 ways, and the plots' own changes leave no doubt.
  expect(result.permutation).toEqual({ ways: 126, asLarge: 1 })
})

test('above where it was and advantage over unlimed plots differ by what those lost', () => {
  const dose = [{ id: 1, at: STARTS_AT, material: 'chalk' }]
  const answer = (control: Parameters<typeof amendmentEffect>[1]) => {
    const effect = amendmentEffect(dailyMean(limed), control, dose, { at: AT })
    if (effect.status !== 'ok') throw new Error(effect.have)
    return effect.doses[0]!.present!
  }
  const advantage = answer(dailyMean(unlimed))
  expect(advantage.low!).toBeLessThan(1.215)
  expect(advantage.high!).toBeGreaterThan(1.215)
  const above = answer(null)
  expect(above.low!).toBeLessThan(0.84)
  expect(above.high!).toBeGreaterThan(0.84)
  expect(above.high!).toBeLessThan(advantage.value!)
})
