import { arRegression } from '../stats/ar-regression.ts'
import { tQuantile } from '../stats/t-quantile.ts'
import type { WeeklySeries } from '../aggregate/weekly-medians.ts'
import { fixed } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** Whether two beds already moved apart before one of them was treated. */
export interface StartTrend {
  readonly trendFree: boolean
  /** Change of the difference and its 95 % half-width, pH per 30 days. */
  readonly per30Days: number
  readonly halfWidth: number
  readonly sentence: string
}

const LEAST_WEEKS = 8
const MONTH_WEEKS = 30 / 7
/** Less than this over 90 days does not matter, pH. */
const LEAST_MOVE_PH = 0.1

/** The trend of the difference before the dose; null with fewer than eight weeks. */
export function startTrend(weekly: WeeklySeries, doseAt: number): StartTrend | null {
  const count = weekly.time.filter((time) => time < doseAt).length
  if (count < LEAST_WEEKS) return null
  const step = weekly.step.slice(0, count)
  const level = new Float64Array(count).fill(1)
  const fit = arRegression([level, step], weekly.value.slice(0, count), step)
  const per30Days = fit.beta[1]! * MONTH_WEEKS
  const halfWidth = tQuantile(0.975, fit.freedom) * fit.se[1]! * MONTH_WEEKS
  const moved = Math.abs(per30Days) > halfWidth && Math.abs(3 * per30Days) >= LEAST_MOVE_PH
  const size = say`${fixed(per30Days, 3)} ± ${fixed(halfWidth, 3)} pH per 30 days`
  return {
    trendFree: !moved,
    per30Days,
    halfWidth,
    sentence: moved
      ? say`The difference was already moving before: ${size}. Part of the effect may be that.`
      : say`No trend of the difference before: ${size}.`,
  }
}
