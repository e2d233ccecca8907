import type { DailySeries } from '../aggregate/daily-series.ts'
import { weeklyMedians } from '../aggregate/weekly-medians.ts'
import type { Insufficient } from '../assessment.ts'
import { arRegression } from '../stats/ar-regression.ts'
import { tQuantile } from '../stats/t-quantile.ts'
import { type LevelBreak, levelPieces } from './level-pieces.ts'
import { say } from '../../words/say.ts'

/** The same weeks a year apart. */
export interface LikeSeason {
  readonly status: 'ok'
  /** These weeks less the same weeks a year before, pH, with the ends of the 95 % interval. */
  readonly change: number
  readonly low: number
  readonly high: number
  /** Weeks that both years have. */
  readonly weeks: number
}

const WEEKS_A_YEAR = 52
const LEAST_WEEKS = 6
/** Neighbouring weeks of a bed are alike; a dozen of them cannot show how much, so this much is taken at least. */
const LEAST_RHO = 0.5
/** Wetness and warmth of one year against the next move the same weeks by this much, pH. */
const YEAR_SD = 0.05

/**
 * What can be said before a trend can: the newest weeks held against the same weeks a year ago, so that the season
 * drops out. No trend: years differ, and that is part of the interval.
 *
 * @param breaks jumps of the level; weeks with one between them and their like are not compared
 */
export function likeSeason(
  series: DailySeries,
  breaks: readonly LevelBreak[] = [],
): LikeSeason | Insufficient {
  const { step: week, time, value } = weeklyMedians(series)
  const { piece } = levelPieces(time, breaks)
  const at = new Map(Array.from(week, (w, i) => [w, i]))
  const pairs: { week: number; change: number }[] = []
  let broken = 0
  for (const [i, own] of week.entries()) {
    const before = at.get(own - WEEKS_A_YEAR)
    if (before === undefined) continue
    if (piece[i] === -1 || piece[i] !== piece[before]) broken++
    else pairs.push({ week: own, change: value[i]! - value[before]! })
  }
  const n = pairs.length
  if (n < LEAST_WEEKS) {
    return {
      status: 'insufficient',
      have:
        broken > 0
          ? say`the level was moved between these weeks and the same weeks a year ago`
          : n === 1
            ? say`${n} week that can be held against the same weeks a year ago`
            : say`${n} weeks that can be held against the same weeks a year ago`,
      need: say`${LEAST_WEEKS} weeks`,
    }
  }
  const fit = arRegression(
    [new Float64Array(n).fill(1)],
    Float64Array.from(pairs, ({ change }) => change),
    Float64Array.from(pairs, ({ week: w }) => w),
  )
  const change = fit.beta[0]!
  // A short run shows too little of how alike its weeks are: the error of a mean grows with sqrt((1 + r) / (1 - r)).
  const wider = fit.rho >= LEAST_RHO ? 1 : Math.sqrt(likeness(LEAST_RHO) / likeness(fit.rho))
  const se = Math.sqrt((fit.se[0]! * wider) ** 2 + 2 * YEAR_SD ** 2)
  const reach = tQuantile(0.975, fit.freedom) * se
  return { status: 'ok', change, low: change - reach, high: change + reach, weeks: n }
}

const likeness = (rho: number): number => (1 + rho) / (1 - rho)
