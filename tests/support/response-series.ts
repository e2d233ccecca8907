import type { DailySeries } from '#hub/analysis/aggregate/daily-series.ts'
import { DAY } from '#hub/model/clock.ts'
import type { Random } from '#hub/simulator/random.ts'
import { dailyOf, noise, SERIES_START_MS } from '../score/series.ts'

/** Beds of one garden: weather and season are shared, every bed wanders by itself. */
export interface GardenOptions {
  readonly treated: number
  readonly untreated: number
  readonly weeksBefore: number
  readonly weeksAfter: number
  /** Change of the treated beds from the start on, pH; sudden, all of it there at once. @default 0 */
  readonly effect?: number
  /** Wandering of one bed: standard deviation of a week and correlation of neighbours. @default 0.07 and 0.6 */
  readonly sd?: number
  readonly keep?: number
  /** Share of weeks that have readings. @default 1 */
  readonly kept?: number
}

export interface GardenSeries {
  readonly treated: readonly DailySeries[]
  readonly untreated: readonly DailySeries[]
  readonly startsAt: number
  readonly endAt: number
}

/** A garden with treated and untreated beds, weekly levels written out as days. */
export function gardenSeries(random: Random, options: GardenOptions): GardenSeries {
  const { treated, untreated, weeksBefore, weeksAfter } = options
  const { effect = 0, sd = 0.07, keep = 0.6, kept = 1 } = options
  const weeks = weeksBefore + weeksAfter
  const season = random.between(0.05, 0.3)
  const phase = random.between(0, 6)
  const common = noise(random, weeks, 0.08, 0.7).map(
    (value, week) => value + season * Math.sin((2 * Math.PI * week) / 52.18 + phase),
  )
  const bed = (change: number): DailySeries => {
    const level = random.between(5.5, 7)
    const own = noise(random, weeks, sd, keep)
    return dailyOf(
      own.map((value, week) => level + value + common[week]! + (week >= weeksBefore ? change : 0)),
      SERIES_START_MS,
      () => random.chance(kept),
    )
  }
  return {
    treated: Array.from({ length: treated }, () => bed(effect)),
    untreated: Array.from({ length: untreated }, () => bed(0)),
    startsAt: SERIES_START_MS + weeksBefore * 7 * DAY,
    endAt: SERIES_START_MS + weeks * 7 * DAY,
  }
}
