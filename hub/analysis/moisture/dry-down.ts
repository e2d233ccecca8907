import type { DryDown, WaterState } from './water-state.ts'

/** Days of drying that must be there before a rate is drawn. */
const LEAST_DAYS = 2
/** One daily reading is not better known than this share of the moisture: classes, warmth, roundings. */
const READING_SHARE = 0.01

/**
 * The dry-down that is going on, up to `at` (epoch ms): straight line through one reading a day at the same hour,
 * so that the daily swing of the sensor drops out. Null when fewer than two such readings are there.
 */
export function dryDownOf(state: WaterState, at: number): DryDown | null {
  const { drying } = state
  if (drying === null) return null
  let n = 0
  let sumX = 0
  let sumY = 0
  let sumXX = 0
  let sumXY = 0
  for (const [x, y] of drying.days.entries()) {
    if (Number.isNaN(y)) continue
    n++
    sumX += x
    sumY += y
    sumXX += x * x
    sumXY += x * y
  }
  if (n < LEAST_DAYS) return null
  const spreadX = sumXX - (sumX * sumX) / n
  const perDay = -(sumXY - (sumX * sumY) / n) / spreadX
  const middle = sumY / n
  let left = 0
  for (const [x, y] of drying.days.entries()) {
    if (!Number.isNaN(y)) left += (y - middle + perDay * (x - sumX / n)) ** 2
  }
  const reading = READING_SHARE * middle
  const variance = Math.max(reading * reading, n > 2 ? left / (n - 2) : 0)
  return { from: drying.from, to: at, perDay, perDaySe: Math.sqrt(variance / spreadX) }
}
