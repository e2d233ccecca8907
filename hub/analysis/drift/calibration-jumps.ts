import { DAY } from '../../model/clock.ts'
import type { DailySeries } from '../aggregate/daily-series.ts'
import type { Insufficient } from '../assessment.ts'
import { median } from '../stats/median.ts'
import { tQuantile } from '../stats/t-quantile.ts'
import { say } from '../../words/say.ts'

/** What calibrations took away: the electrode's own drift since the one before. */
export interface CalibrationJumps {
  readonly status: 'ok'
  /** Drift between calibrations, pH per 30 days, with the ends of the 95 % interval. */
  readonly per30Days: number
  readonly low: number
  readonly high: number
  /** Jumps it rests on. */
  readonly jumps: number
  /** The newest jump, pH, and when it was. */
  readonly newest: number
  readonly at: number
  readonly drifts: boolean
}

/** Days on either side whose median is the level; the day of the visit and the one after it settle. */
const SIDE_DAYS = 3
const SETTLING_DAYS = 2
/** A jump soon after the calibration before says little of a rate. */
const LEAST_APART_DAYS = 20
/** How well one jump tells what was taken away, pH: the bed itself moves between the two levels. */
const JUMP_SD = 0.05
/** The scatter of a few jumps is held to count for this many more with the usual one. */
const PRIOR_JUMPS = 4
/** Drift inside this is nothing to speak of, pH per 30 days. */
const WORTH_A_WORD = 0.05

/**
 * Drift of an electrode by what its own calibrations took away, the level after settling less the level before: the
 * only witness a bed with one spot has.
 *
 * @param visits calibrations and services of the probe, epoch ms ascending
 */
export function calibrationJumps(
  series: DailySeries,
  visits: readonly number[],
): CalibrationJumps | Insufficient {
  const found: { at: number; jump: number; days: number }[] = []
  const apart = visits.filter((at, i) => i === 0 || at - visits[i - 1]! > SETTLING_DAYS * DAY)
  for (const [i, at] of apart.entries()) {
    const since = apart[i - 1]
    if (since === undefined || at - since < LEAST_APART_DAYS * DAY) continue
    const day = Math.floor(at / DAY) * DAY
    const before = levelBetween(series, day - SIDE_DAYS * DAY, day)
    const settled = day + SETTLING_DAYS * DAY
    const after = levelBetween(series, settled, settled + SIDE_DAYS * DAY)
    if (Number.isNaN(before) || Number.isNaN(after)) continue
    found.push({ at, jump: after - before, days: (at - since) / DAY })
  }
  const newest = found.at(-1)
  if (newest === undefined) {
    return {
      status: 'insufficient',
      have: say`no two calibrations with readings around the later one`,
      need: say`two calibrations ${LEAST_APART_DAYS} days or more apart`,
    }
  }
  // Rate through the origin: an electrode just calibrated has not drifted.
  const xx = found.reduce((sum, { days }) => sum + (days / 30) ** 2, 0)
  const xy = found.reduce((sum, { days, jump }) => sum - (days / 30) * jump, 0)
  const per30Days = xy / xx
  const left = found.reduce((sum, { days, jump }) => sum + (jump + (per30Days * days) / 30) ** 2, 0)
  const freedom = PRIOR_JUMPS + found.length - 1
  const variance = (PRIOR_JUMPS * 2 * JUMP_SD ** 2 + left) / freedom
  const reach = tQuantile(0.975, freedom) * Math.sqrt(variance / xx)
  const low = per30Days - reach
  const high = per30Days + reach
  return {
    status: 'ok',
    per30Days,
    low,
    high,
    jumps: found.length,
    newest: newest.jump,
    at: newest.at,
    drifts: low > WORTH_A_WORD || high < -WORTH_A_WORD,
  }
}

/** Median of the days `from <= day < to`; NaN with fewer than two. */
function levelBetween({ day, value }: DailySeries, from: number, to: number): number {
  const first = day.findIndex((d) => d >= from)
  if (first < 0) return NaN
  let past = first
  while (past < day.length && day[past]! < to) past++
  return past - first < 2 ? NaN : median(value.subarray(first, past))
}
