import { DAY } from '../../model/clock.ts'
import type { DailySeries } from '../aggregate/daily-series.ts'
import type { Insufficient } from '../assessment.ts'
import { arRegression } from '../stats/ar-regression.ts'
import { median } from '../stats/median.ts'
import { tQuantile } from '../stats/t-quantile.ts'
import { say } from '../../words/say.ts'

/** How electrodes drift between calibrations, pH per 30 days: mean and spread, from open series of in-situ probes. */
const USUAL = { mean: 0.09, sd: 0.08 } as const
const LEAST_DAYS = 30
const LEAST_VALID_DAYS = 20
/** Drift inside this is nothing to speak of, pH per 30 days. */
const WORTH_A_WORD = 0.05

/** Drift of one electrode since it was last calibrated. */
export interface ElectrodeDrift {
  readonly status: 'ok'
  /** pH per 30 days, with the ends of the 95 % interval. */
  readonly per30Days: number
  readonly low: number
  readonly high: number
  readonly days: number
  readonly peers: number
  readonly drifts: boolean
}

/**
 * Drift against the neighbouring spots between two services. What all electrodes have in common cannot be seen that
 * way; it is added as the mean drift of such electrodes, with its spread.
 *
 * @param own daily pH of the spot, `peers` those of the other spots; days before `from` (epoch ms) are left out
 */
export function electrodeDrift(
  own: DailySeries,
  peers: readonly DailySeries[],
  from: number,
): ElectrodeDrift | Insufficient {
  const day: number[] = []
  const difference: number[] = []
  const valueOn = peers.map((peer) => new Map(Array.from(peer.day, (d, i) => [d, peer.value[i]!])))
  for (const [i, at] of own.day.entries()) {
    if (at < from) continue
    const others = valueOn.flatMap((peer) => peer.get(at) ?? [])
    if (others.length === 0) continue
    day.push(at)
    difference.push(own.value[i]! - median(others))
  }
  const n = day.length
  // A probe that is long gone is no peer.
  const present = valueOn.filter(
    (peer) => 2 * day.reduce((c, at) => c + (peer.has(at) ? 1 : 0), 0) >= n,
  ).length
  const span = n === 0 ? 0 : (day.at(-1)! - day[0]!) / DAY
  if (peers.length === 0 || span < LEAST_DAYS || n < LEAST_VALID_DAYS) {
    return {
      status: 'insufficient',
      have:
        peers.length === 0
          ? say`no other spot to compare with`
          : say`${n} days since the last calibration that other spots share`,
      need:
        peers.length === 0
          ? say`a second spot, or two buffers at the next calibration`
          : say`${LEAST_DAYS} days with at least ${LEAST_VALID_DAYS} of readings`,
    }
  }
  const step = Float64Array.from(day, (at) => Math.round((at - day[0]!) / DAY))
  const centre = span / 2
  const fit = arRegression(
    [new Float64Array(n).fill(1), step.map((s) => (s - centre) / 30)],
    Float64Array.from(difference),
    step,
  )
  const heard = Math.max(1, present)
  const common = (USUAL.sd * USUAL.sd) / heard
  // A median of several has a somewhat larger variance than their mean.
  const variance = fit.se[1]! ** 2 + (heard > 2 ? 1.1 * 1.1 * common : common)
  const per30Days = fit.beta[1]! + USUAL.mean
  const reach = tQuantile(0.975, fit.freedom) * Math.sqrt(variance)
  const low = per30Days - reach
  const high = per30Days + reach
  return {
    status: 'ok',
    per30Days,
    low,
    high,
    days: Math.round(span),
    peers: heard,
    drifts: low > WORTH_A_WORD || high < -WORTH_A_WORD,
  }
}
