import type { DailySeries } from '#hub/analysis/aggregate/daily-series.ts'
import { electrodeDrift } from '#hub/analysis/drift/electrode-drift.ts'
import { soilTrend } from '#hub/analysis/drift/soil-trend.ts'
import { forecastBand } from '#hub/analysis/forecast/forecast-band.ts'
import { DAY } from '#hub/model/clock.ts'
import { bedGround } from '#hub/simulator/bed-ground.ts'
import type { Random } from '#hub/simulator/random.ts'
import type { Measures } from './jobs.ts'
import {
  type ELECTRODE_CASES,
  electrodeSeries,
  noise,
  SERIES_START_MS,
  type TREND_CASES,
  trendSeries,
} from './series.ts'

/** Interval of a trend against the true slope. */
export function trendRun(random: Random, one: (typeof TREND_CASES)[number]): Measures {
  const { series, slope } = trendSeries(random, one)
  const trend = soilTrend(series)
  if (trend.status !== 'ok') return { told: 0 }
  const { low, high, perYear, verdict } = trend
  return {
    told: 1,
    covered: low <= slope && slope <= high ? 1 : 0,
    halfWidth: (high - low) / 2,
    error: Math.abs(perYear - slope),
    // Told as rising or falling although it goes the other way.
    turned: verdict !== 'steady' && Math.sign(perYear) !== Math.sign(slope) ? 1 : 0,
  }
}

/** Interval of an electrode's drift against the truth. */
export function electrodeRun(random: Random, one: (typeof ELECTRODE_CASES)[number]): Measures {
  const { spots, drift } = electrodeSeries(random, one)
  const found = electrodeDrift(spots[0]!, spots.slice(1), SERIES_START_MS)
  if (found.status !== 'ok') return { told: 0 }
  const { low, high, per30Days } = found
  return {
    told: 1,
    covered: low <= drift && drift <= high ? 1 : 0,
    halfWidth: (high - low) / 2,
    error: Math.abs(per30Days - drift),
  }
}

export const FORECAST_CASES = [
  { name: '120 d known', days: 120 },
  { name: '600 d known', days: 600 },
] as const
export const FORECAST_AHEAD = [30, 90, 180] as const

/** A quiet bed looked ahead from one day: whether its later value lies within the fan. */
export function forecastRun(random: Random, { days }: (typeof FORECAST_CASES)[number]): Measures {
  const all = days + FORECAST_AHEAD.at(-1)! + 8
  const startMs = SERIES_START_MS + Math.floor(random.between(0, 365)) * DAY
  const basePh = random.between(5.2, 7.4)
  const ground = bedGround(random.split('ground'), { startMs, days: all, basePh }, [])
  // Three spots and their electrodes, of which each wanders by 0.05.
  const shown = noise(random, all, 0.05 / Math.sqrt(3), Math.exp(-1 / 10))
  const value = Float64Array.from({ length: all }, (_, d) => {
    const day = ground.ph.subarray(d * 96, (d + 1) * 96)
    return day.reduce((sum, ph) => sum + ph, 0) / day.length + shown[d]!
  })
  const known: DailySeries = {
    day: Float64Array.from({ length: days }, (_, d) => startMs + d * DAY),
    value: value.slice(0, days),
    se: new Float64Array(days).fill(0.08),
  }
  const at = startMs + days * DAY
  const forecast = forecastBand(known, null, { at })
  if (forecast.status !== 'ok') return { told: 0 }
  const measures: Record<string, number> = { told: 1 }
  for (const ahead of FORECAST_AHEAD) {
    const h = Math.round(ahead / 7) - 1
    const then = Math.round((forecast.time[h]! - startMs) / DAY)
    // The fan is about a week's value: the week around its day.
    const week = value.slice(then - 3, then + 4).sort()
    const later = week[3]!
    const [low, lowMiddle, middle, highMiddle, high] = forecast.fan.map((column) => column[h]!)
    measures[`wide${ahead}`] = low! <= later && later <= high! ? 1 : 0
    measures[`middle${ahead}`] = lowMiddle! <= later && later <= highMiddle! ? 1 : 0
    measures[`halfWidth${ahead}`] = (high! - low!) / 2
    measures[`error${ahead}`] = Math.abs(later - middle!)
  }
  return measures
}
