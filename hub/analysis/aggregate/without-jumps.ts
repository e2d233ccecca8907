import { DAY } from '../../model/clock.ts'
import { median } from '../stats/median.ts'
import type { DailySeries } from './daily-series.ts'

/** A sudden change of the soil's level that stayed. */
export interface LevelJump {
  /** Epoch ms; on its way until `until`. */
  readonly at: number
  readonly until: number
  /** As it was told when it was noticed, signed pH. */
  readonly size: number
  /** What the days say after `before` is not the jump alone: something was put on then. Epoch ms. */
  readonly before: number
}

/** A jump that was taken out. */
export interface TakenJump {
  readonly at: number
  readonly by: number
}

const AROUND_MS = 14 * DAY
const LEAST_DAYS = 4

/**
 * The bed as if it had always been at the level of its newest days: days before a jump are moved by it, days while it
 * was on its way are left out. How far it jumped is what the fortnights on both sides say, or what was told of it where
 * they have too few days.
 */
export function withoutJumps(
  series: DailySeries,
  jumps: readonly LevelJump[],
): { readonly series: DailySeries; readonly taken: readonly TakenJump[] } {
  const taken = jumps.map(({ at, until, size, before }): TakenJump & { until: number } => {
    const level = (from: number, to: number): number | null => {
      const values = series.value.filter((_, i) => series.day[i]! >= from && series.day[i]! < to)
      return values.length < LEAST_DAYS ? null : median(values)
    }
    const was = level(at - DAY - AROUND_MS, at - DAY)
    const is = level(until, Math.min(until + AROUND_MS, before - DAY))
    return { at, until, by: was === null || is === null ? size : is - was }
  })
  if (taken.length === 0) return { series, taken }
  const kept = Array.from(series.day.keys()).filter(
    (i) => !taken.some(({ at, until }) => series.day[i]! >= at - DAY && series.day[i]! < until),
  )
  return {
    series: {
      day: Float64Array.from(kept, (i) => series.day[i]!),
      value: Float64Array.from(kept, (i) =>
        taken.reduce(
          (value, { at, by }) => (series.day[i]! < at ? value + by : value),
          series.value[i]!,
        ),
      ),
      se: Float64Array.from(kept, (i) => series.se[i]!),
    },
    taken: taken.map(({ at, by }) => ({ at, by })),
  }
}
