import type { DailySeries } from '#hub/analysis/aggregate/daily-series.ts'
import { DAY } from '#hub/model/clock.ts'
import type { Random } from '#hub/simulator/random.ts'
import { type Response, responseShare } from '#hub/simulator/soil.ts'

/** A Thursday, 00:00 UTC, from which generated series run: weeks counted from 1970 begin on one. */
export const SERIES_START_MS = Date.UTC(2023, 7, 31)

/** First-order Gaussian noise with this standard deviation, `keep` from step to step. */
export function noise(random: Random, n: number, sd: number, keep: number): Float64Array {
  const out = new Float64Array(n)
  const fresh = sd * Math.sqrt(1 - keep * keep)
  let value = random.normal(0, sd)
  for (let i = 0; i < n; i++) {
    out[i] = value
    value = keep * value + random.normal(0, fresh)
  }
  return out
}

/**
 * Daily values whose weekly medians are the given ones; a week that is not kept has no day.
 *
 * @param start day of the first week, epoch ms, a Thursday
 */
export function dailyOf(
  weekly: Float64Array,
  start: number = SERIES_START_MS,
  keep: (week: number) => boolean = () => true,
): DailySeries {
  const day: number[] = []
  const value: number[] = []
  for (const [week, level] of weekly.entries()) {
    if (!keep(week)) continue
    for (let d = 0; d < 7; d++) {
      day.push(start + (week * 7 + d) * DAY)
      value.push(level + (d - 3) * 0.001)
    }
  }
  return {
    day: Float64Array.from(day),
    value: Float64Array.from(value),
    se: new Float64Array(day.length).fill(0.1),
  }
}

export const TREND_CASES = [
  { name: '2 years, phi .6', years: 2, sd: 0.1, keep: 0.6 },
  { name: '3 years, phi .6', years: 3, sd: 0.1, keep: 0.6 },
  { name: '3 years, phi .85', years: 3, sd: 0.12, keep: 0.85 },
] as const

/** A bed with a trend of known slope (pH per year), a season, and weekly first-order noise; 8 % of weeks missing. */
export function trendSeries(
  random: Random,
  { years, sd, keep }: { years: number; sd: number; keep: number },
): { series: DailySeries; slope: number } {
  const weeks = Math.floor(52.18 * years)
  const slope = random.normal(0, 0.15)
  const season = random.between(0.03, 0.3)
  const phase = random.between(0, 6)
  const e = noise(random, weeks, sd, keep)
  const weekly = e.map(
    (value, week) =>
      6.5 +
      value +
      (slope * week) / 52.18 +
      season * Math.sin((2 * Math.PI * week) / 52.18 + phase),
  )
  return { series: dailyOf(weekly, SERIES_START_MS, () => random.chance(0.92)), slope }
}

export const ELECTRODE_CASES = [
  { name: '45 d, 3 spots', days: 45, spots: 3 },
  { name: '45 d, 2 spots', days: 45, spots: 2 },
  { name: '45 d, 4 spots', days: 45, spots: 4 },
] as const

/** Spots of one bed whose electrodes drift (pH per 30 days) between two services, day by day. */
export function electrodeSeries(
  random: Random,
  { days, spots }: { days: number; spots: number },
): { spots: readonly DailySeries[]; drift: number } {
  const drifts = Array.from({ length: spots }, () => random.normal(0.09, 0.08))
  return {
    drift: drifts[0]!,
    spots: drifts.map((drift) => {
      const e = noise(random, days, 0.06, Math.exp(-1 / 5))
      return {
        day: Float64Array.from({ length: days }, (_, d) => SERIES_START_MS + d * DAY),
        value: e.map((value, d) => 6.5 + value + (drift * d) / 30 + random.normal(0, 0.02)),
        se: new Float64Array(days).fill(0.05),
      }
    }),
  }
}

export const RESPONSE_CASES = [
  { name: 'half 60-150 d, 540 d, control', half: [60, 150], seen: 540, control: true },
  { name: 'half 60-150 d, 540 d, none', half: [60, 150], seen: 540, control: false },
  { name: 'half 200-500 d, 730 d, control', half: [200, 500], seen: 730, control: true },
  { name: 'half 200-500 d, 730 d, none', half: [200, 500], seen: 730, control: false },
  { name: 'half 1000-3000 d, 300 d, control', half: [1000, 3000], seen: 300, control: true },
] as const

export interface ResponseTruth {
  /** Change at the peak, pH. */
  readonly peakPh: number
  readonly lagDays: number
  /** Days from the end of the lag until the highest point. */
  readonly peakDay: number
  /** Days from the peak until half of it has gone. */
  readonly halfDays: number
}

/** A treated bed and an untreated one that share weather and season; the dose is given at `doseAt`, epoch ms. */
export function responseSeries(
  random: Random,
  { half, seen, control }: { half: readonly [number, number]; seen: number; control: boolean },
): {
  treated: DailySeries
  control: DailySeries | null
  doseAt: number
  endAt: number
  truth: ResponseTruth
  /** The course behind it. */
  response: Response
} {
  const before = Math.floor((control ? 90 : 180) / 7)
  const weeks = before + Math.ceil(seen / 7)
  const response = {
    peakPh: random.between(0.5, 1.2) * (random.chance(0.5) ? 1 : -1),
    lagDays: random.between(0, 20),
    riseHalfDays: random.between(5, 30),
    returnHalfDays: Math.exp(random.between(Math.log(half[0]), Math.log(half[1]))),
  }
  const season = random.between(0.05, 0.3)
  const phase = random.between(0, 6)
  const shared = noise(random, weeks, 0.08, 0.7)
  const own = noise(random, weeks, 0.07, 0.6)
  const other = noise(random, weeks, 0.07, 0.6)
  // Middle of the week against the dose.
  const daysAt = (week: number): number => (week - before) * 7 + 3
  const common = shared.map(
    (value, week) => value + season * Math.sin((2 * Math.PI * daysAt(week)) / 365.25 + phase),
  )
  const treated = own.map(
    (value, week) =>
      6 + value + common[week]! + response.peakPh * responseShare(response, daysAt(week)),
  )
  const untreated = other.map((value, week) => 6.2 + value + common[week]!)
  return {
    treated: dailyOf(treated),
    control: control ? dailyOf(untreated) : null,
    doseAt: SERIES_START_MS + before * 7 * DAY,
    endAt: SERIES_START_MS + weeks * 7 * DAY,
    truth: { peakPh: response.peakPh, lagDays: response.lagDays, ...courseOf(response) },
    response,
  }
}

/** Day of the highest point of a response, and days from there until half of it has gone, by bisection. */
function courseOf(response: { readonly riseHalfDays: number; readonly returnHalfDays: number }): {
  peakDay: number
  halfDays: number
} {
  const whole = { peakPh: 1, lagDays: 0, ...response }
  const rise = Math.LN2 / response.riseHalfDays
  const back = Math.LN2 / response.returnHalfDays
  const peakDay = Math.log(rise / back) / (rise - back)
  let low = peakDay
  let high = peakDay + 20 * response.returnHalfDays
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2
    if (responseShare(whole, middle) > 0.5) low = middle
    else high = middle
  }
  return { peakDay, halfDays: low - peakDay }
}
