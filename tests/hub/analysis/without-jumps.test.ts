import { expect, test } from 'vitest'
import { withoutJumps } from '#hub/analysis/aggregate/without-jumps.ts'
import { DAY } from '#hub/model/clock.ts'
import { DAY_ONE, series } from '../../support/slow-series.ts'

const jump = (
  day: number,
  change: Partial<{ until: number; size: number; before: number }> = {},
) => ({
  at: DAY_ONE + day * DAY,
  until: DAY_ONE + (day + 2) * DAY,
  size: 0.3,
  before: Infinity,
  ...change,
})

test('without a jump nothing changes', () => {
  const one = series(60, (d) => 6 + 0.01 * d)
  expect(withoutJumps(one, [])).toEqual({ series: one, taken: [] })
})

test('days before a jump are moved to the level after it, by what the days say', () => {
  const bed = series(100, (d) => (d < 50 ? 6.4 : 5.8) + 0.02 * Math.sin(d))
  const { series: level, taken } = withoutJumps(bed, [jump(50)])
  expect(taken[0]!.by).toBeCloseTo(-0.6, 1)
  for (const [i, value] of level.value.entries()) {
    expect(value, String(i)).toBeCloseTo(5.8, 1)
  }
  // On its way for two days, and the day before.
  expect(level.day).toHaveLength(97)
})

test('two jumps add up', () => {
  const bed = series(120, (d) => (d < 40 ? 6.5 : d < 80 ? 5.9 : 6.2))
  const { series: level, taken } = withoutJumps(bed, [jump(40), jump(80)])
  expect(taken.map(({ by }) => Math.round(by * 10) / 10)).toEqual([-0.6, 0.3])
  expect(Math.min(...level.value)).toBeCloseTo(6.2, 10)
  expect(Math.max(...level.value)).toBeCloseTo(6.2, 10)
})

test('a treatment right after it does not pass for the jump: what was told of it counts then', () => {
  // Fallen by 0.5 on day 50, limed on day 53 and rising fast.
  const bed = series(100, (d) =>
    d < 50 ? 6.4 : 5.9 + (d > 53 ? Math.min(0.4, 0.1 * (d - 53)) : 0),
  )
  const told = { size: -0.5, before: DAY_ONE + 53 * DAY }
  expect(withoutJumps(bed, [jump(50, told)]).taken[0]!.by).toBe(-0.5)
  expect(withoutJumps(bed, [jump(50)]).taken[0]!.by).toBeGreaterThan(-0.2)
})
