import { expect, test } from 'vitest'
import { COARSE_GRID } from '#hub/analysis/amendment/response-grid.ts'
import { responseProfile } from '#hub/analysis/amendment/response-profile.ts'
import { responseAt } from '#hub/analysis/amendment/response-shape.ts'
import { weeklyMedians } from '#hub/analysis/aggregate/weekly-medians.ts'
import { harmonics } from '#hub/analysis/stats/harmonics.ts'
import { separableFit } from '#hub/analysis/stats/separable-fit.ts'
import { DAY } from '#hub/model/clock.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import { dailyOf, noise, SERIES_START_MS } from '../../../score/series.ts'

const START = SERIES_START_MS

function patchy(seed: number) {
  const random = seededRandom(seed)
  const doses = [START + 20 * 7 * DAY, START + 55 * 7 * DAY]
  const shape = { lagDays: 10, riseHalfDays: 15, returnHalfDays: 150 }
  const weekly = noise(random, 110, 0.08, 0.6).map((value, week) => {
    const at = START + (week + 0.5) * 7 * DAY
    return doses.reduce((sum, dose) => sum + 0.6 * responseAt(shape, (at - dose) / DAY), 6 + value)
  })
  const series = dailyOf(weekly, START, () => random.chance(0.85))
  const window = { origin: doses[0]!, from: 0, to: Infinity }
  return { weekly: weeklyMedians(series, window), doses }
}

test.each([
  ['one dose, level only', 1, 0, 0],
  ['one dose, season, correlated weeks', 1, 1, 0.6],
  ['two doses, season, correlated weeks', 2, 1, 0.6],
])('the fast profile is the separable fit on the same courses: %s', (_, count, season, rho) => {
  const { weekly, doses: all } = patchy(51)
  const doses = all.slice(0, count)
  const shared = [
    new Float64Array(weekly.time.length).fill(1),
    ...harmonics(weekly.time, 365.25 * DAY, season),
  ]
  const profile = responseProfile(weekly, shared, doses, COARSE_GRID, rho)
  const nodes = COARSE_GRID.shapes.flatMap((shape, index) =>
    shape === null
      ? []
      : [
          {
            index,
            theta: [],
            columns: doses.map((dose) =>
              weekly.time.map((at) => responseAt(shape, (at - dose) / DAY)),
            ),
          },
        ],
  )
  const slow = separableFit(shared, nodes, weekly.value, {
    whitening: { step: weekly.step, rho },
  })
  expect(nodes.length).toBeGreaterThan(300)
  expect(nodes[slow.best]!.index).toBe(profile.best)
  for (const [i, { index }] of nodes.entries()) {
    const fit = slow.fits[i]!
    expect(profile.sse[index]! / fit.sse).toBeCloseTo(1, 7)
    const { amplitude, inverse } = profile.amplitudes(index)
    for (let k = 0; k < count; k++) {
      expect(amplitude[k]! / fit.amplitude[k]!).toBeCloseTo(1, 5)
      expect(inverse[k]! / fit.inverse[k * count + k]!).toBeCloseTo(1, 5)
    }
  }
})

test('two doses in one week cannot be told apart: no course is offered', () => {
  const { weekly, doses } = patchy(52)
  const level = new Float64Array(weekly.time.length).fill(1)
  const twice = [doses[0]!, doses[0]!]
  const profile = responseProfile(weekly, [level], twice, COARSE_GRID, 0)
  expect(profile.sse.every((sse) => sse === Infinity)).toBe(true)
  expect(() => profile.amplitudes(profile.best)).toThrow(/cannot be told/)
})
