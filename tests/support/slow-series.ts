import type { DailySeries } from '#hub/analysis/aggregate/daily-series.ts'
import { DAY } from '#hub/model/clock.ts'
import type { SpotDay } from '#hub/model/spot-day.ts'

/** First day of the invented records, epoch ms. */
export const DAY_ONE = 19_800 * DAY

export function normalFrom(random: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random())
}

/** First-order autoregressive noise, one value a day. */
export function dailyNoise(
  random: () => number,
  days: number,
  sd: number,
  phi: number,
): Float64Array {
  const out = new Float64Array(days)
  let value = sd * normalFrom(random)
  for (let i = 0; i < days; i++) {
    out[i] = value
    value = phi * value + sd * Math.sqrt(1 - phi * phi) * normalFrom(random)
  }
  return out
}

export function series(days: number, valueOf: (day: number) => number, se = 0.1): DailySeries {
  return {
    day: Float64Array.from({ length: days }, (_, i) => DAY_ONE + i * DAY),
    value: Float64Array.from({ length: days }, (_, i) => valueOf(i)),
    se: new Float64Array(days).fill(se),
  }
}

/** Day rows of a bed: one function of the day a spot; days where it gives NaN do not count. */
export function spotDays(
  spots: readonly ((day: number) => number)[],
  days: number,
  change: Partial<SpotDay> = {},
): SpotDay[] {
  return Array.from({ length: days }, (_, d) =>
    spots.map((at, i) => ({
      bedId: 1,
      spotId: i + 1,
      probe: `fern${i + 1}`,
      day: DAY_ONE + d * DAY,
      ph: at(d),
      hours: 24,
      moisture: 0.3,
      available: 0.8,
      temperatureC: 14,
      apart: false,
      ...change,
    })),
  ).flat()
}
