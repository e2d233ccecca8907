/** The local slope is drawn from so many weeks. */
const LOCAL_WEEKS = 10
/** What the slope of any bed is expected to be before it was seen, pH a week. */
const SLOPE_PRIOR_SD = 0.015
/** Scatter of a week about the line before it was seen, pH, and how many weeks that weighs like. */
const WEEK_SD = 0.06
const PRIOR_WEEKS = 4
/** Present level: the last so many weeks. */
const LEVEL_WEEKS = 3

/** The same while a treatment is at work. */
const WORKING_SLOPE_SD = 0.025

/** The newest weeks as a line. */
export interface LocalLine {
  readonly level: number
  readonly levelVariance: number
  /** pH a week, and its variance. */
  readonly slope: number
  readonly slopeVariance: number
  /** How far the weeks themselves are believed, 0 to 1; the rest is the prior. */
  readonly believed: number
}

/**
 * Present level, and the local slope drawn towards none by its prior.
 *
 * @param from first week that counts; -Infinity when no treatment is at work
 */
export function localLine(week: Float64Array, value: Float64Array, from: number): LocalLine {
  const now = week.at(-1)!
  const since = Math.min(now, Math.max(from, now - LOCAL_WEEKS + 1))
  const near: number[] = []
  for (let i = week.length - 1; i >= 0 && week[i]! >= since; i--) near.push(i)
  let sumX = 0
  let sumY = 0
  for (const i of near) {
    sumX += week[i]! - now
    sumY += value[i]!
  }
  const meanX = sumX / near.length
  const meanY = sumY / near.length
  let xx = 0
  let xy = 0
  for (const i of near) {
    xx += (week[i]! - now - meanX) ** 2
    xy += (week[i]! - now - meanX) * (value[i]! - meanY)
  }
  const raw = xx > 0 ? xy / xx : 0
  let left = 0
  for (const i of near) left += (value[i]! - meanY - raw * (week[i]! - now - meanX)) ** 2
  const error = (PRIOR_WEEKS * WEEK_SD ** 2 + left) / (PRIOR_WEEKS + Math.max(0, near.length - 2))
  // Weeks follow each other: the slope is less sure than independent weeks would make it.
  const rawVariance = xx > 0 ? (3 * error) / xx : Infinity
  const prior = (from === -Infinity ? SLOPE_PRIOR_SD : WORKING_SLOPE_SD) ** 2
  const believe = prior / (prior + rawVariance)
  const slope = raw * believe
  // A treatment slows down at its own pace: how far its slope goes on is not known.
  const bend = from === -Infinity ? 0 : (slope / 2) ** 2
  const latest = near.filter((i) => week[i]! > now - LEVEL_WEEKS)
  const level =
    latest.reduce((sum, i) => sum + value[i]! - slope * (week[i]! - now), 0) / latest.length
  return {
    level,
    levelVariance: error / latest.length,
    slope,
    believed: believe,
    slopeVariance: (Number.isFinite(rawVariance) ? believe * rawVariance : prior) + bend,
  }
}
