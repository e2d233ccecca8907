import type { PhBand } from '../../model/bed.ts'
import { DAY } from '../../model/clock.ts'
import type { DailySeries } from '../aggregate/daily-series.ts'
import { type Weekly, weekly } from '../aggregate/weekly.ts'
import type { Insufficient } from '../assessment.ts'
import { arRegression } from '../stats/ar-regression.ts'
import { normalCdf } from '../stats/distributions.ts'
import { harmonics } from '../stats/harmonics.ts'
import { tQuantile } from '../stats/t-quantile.ts'
import { type LevelBreak, levelPieces } from '../drift/level-pieces.ts'
import { YEAR } from '../drift/soil-trend.ts'

const WEEK = 7 * DAY
const LEAST_DAYS = 28
/** A year and a half of weeks before the season is used to look ahead. */
const SEASON_WEEKS = 78
/** Half the swing of a season that is not known yet, pH: beds swing by 0.1 to 0.8 over a year. */
const UNKNOWN_SEASON = 0.1
/** The local slope is drawn from so many weeks and dies away by this share a week. */
const LOCAL_WEEKS = 10
const DAMPING = 0.9
/** What the slope of any bed is expected to be before it was seen, pH a week. */
const SLOPE_PRIOR_SD = 0.015
/** Least wandering of a bed, pH per root of a week, and how many weeks that prior weighs like. */
const WANDER_SD = 0.035
const WANDER_WEIGHT = 12
/** Present level: the last so many weeks. */
const LEVEL_WEEKS = 3
const QUANTILES = [0.05, 0.25, 0.5, 0.75, 0.95] as const

/** A fan of what the bed's pH may become. */
export interface BandForecast {
  readonly status: 'ok'
  /** Epoch ms, weekly, the first one week ahead. */
  readonly time: Float64Array
  /** One column for 5, 25, 50, 75 and 95 %. */
  readonly fan: readonly [Float64Array, Float64Array, Float64Array, Float64Array, Float64Array]
  /** Where the present level stands to the band; null without a band. */
  readonly now: 'inside' | 'below' | 'above' | null
  /** When it leaves its band: middle course and the 80 % interval; null where that is beyond the horizon. */
  readonly leaves: {
    readonly edge: 'low' | 'high'
    readonly median: number | null
    readonly earliest: number | null
    readonly latest: number | null
  } | null
  /** Chance to be outside after so many days. */
  readonly chances: readonly { readonly days: number; readonly outside: number }[]
  /** Whether the season was learned and is part of it. */
  readonly season: boolean
}

/**
 * Looks ahead from the bed's own weeks: the present level, the local slope (drawn towards none and dying away), the
 * season once it is known, and a doubt that grows as the bed has wandered so far.
 */
export function forecastBand(
  series: DailySeries,
  band: PhBand | null,
  options: {
    readonly at: number
    /** Known jumps of the level: they are neither season nor wandering. @default none */
    readonly breaks?: readonly LevelBreak[]
    /** @default 180 */
    readonly horizonDays?: number
  },
): BandForecast | Insufficient {
  const { week, time, value } = weekly(series)
  const n = week.length
  const days = series.day.length
  if (n < 4 || days < LEAST_DAYS) {
    return {
      status: 'insufficient',
      have: `${days} ${days === 1 ? 'day' : 'days'} with a bed value`,
      need: `${LEAST_DAYS} days`,
    }
  }
  const age = options.at - series.day.at(-1)!
  if (age > 21 * DAY) {
    return {
      status: 'insufficient',
      have: `the newest day with a bed value is ${Math.round(age / DAY)} days ago`,
      need: 'a value of the last three weeks',
    }
  }
  const { piece } = levelPieces(time, options.breaks ?? [])
  const season = seasonOf({ week, time, value }, piece)
  const free = value.map((v, i) => v - season.at(time[i]!))
  const { level, levelVariance, slope, slopeVariance } = localLine(week, free)
  const { wander, noise } = wandering(week, free, piece)
  const horizon = Math.ceil((options.horizonDays ?? 180) / 7)
  const lag = (options.at - time.at(-1)!) / WEEK
  const out = {
    time: new Float64Array(horizon),
    fan: QUANTILES.map(() => new Float64Array(horizon)),
    sd: new Float64Array(horizon),
    middle: new Float64Array(horizon),
  }
  const freedom = Math.max(4, Math.min(30, n / 4))
  for (let h = 0; h < horizon; h++) {
    const at = options.at + (h + 1) * WEEK
    const ahead = lag + h + 1
    const damped = (DAMPING * (1 - DAMPING ** ahead)) / (1 - DAMPING)
    const middle = level + slope * damped + season.at(at)
    const variance =
      levelVariance +
      slopeVariance * damped * damped +
      wander * ahead +
      noise / 3 +
      season.variance(ahead) +
      // The mean error of the spots and electrodes does not average out.
      (series.se.at(-1) ?? 0) ** 2 * 0.25
    const sd = Math.sqrt(variance)
    out.time[h] = at
    out.middle[h] = middle
    out.sd[h] = sd
    for (const [i, p] of QUANTILES.entries()) {
      out.fan[i]![h] = middle + (p === 0.5 ? 0 : tQuantile(p, freedom) * sd)
    }
  }
  const fan = out.fan as unknown as BandForecast['fan']
  return {
    status: 'ok',
    time: out.time,
    fan,
    now: band === null ? null : sideOf(level + season.at(options.at), band),
    leaves: band === null ? null : leaving(out, band, level + season.at(options.at), freedom),
    chances:
      band === null
        ? []
        : [30, 90, 180].flatMap((ahead) => {
            const h = Math.round(ahead / 7) - 1
            if (h >= horizon) return []
            const z = (edge: number): number => (edge - out.middle[h]!) / out.sd[h]!
            return { days: ahead, outside: normalCdf(z(band.low)) + 1 - normalCdf(z(band.high)) }
          }),
    season: season.known,
  }
}

interface Season {
  readonly known: boolean
  at(time: number): number
  /** So many weeks ahead. */
  variance(weeks: number): number
}

function seasonOf(all: Weekly, piece: Int32Array): Season {
  const kept = (column: Float64Array): Float64Array => column.filter((_, i) => piece[i]! >= 0)
  const { week, time, value } = {
    week: kept(all.week),
    time: kept(all.time),
    value: kept(all.value),
  }
  const span = week.length === 0 ? 0 : week.at(-1)! - week[0]!
  if (span < SEASON_WEEKS || week.length < SEASON_WEEKS / 2) {
    return {
      known: false,
      at: () => 0,
      // Mean square of how far a wave of unknown phase has gone by then.
      variance: (weeks) =>
        UNKNOWN_SEASON ** 2 * (1 - Math.cos((2 * Math.PI * weeks * WEEK) / YEAR)),
    }
  }
  const middle = time[Math.floor(time.length / 2)]!
  const own = piece.filter((which) => which >= 0)
  const fit = arRegression(
    [
      new Float64Array(time.length).fill(1),
      time.map((t) => (t - middle) / YEAR),
      ...harmonics(time, YEAR, 1),
      ...Array.from({ length: Math.max(...own) }, (_, k) =>
        Float64Array.from(own, (which) => (which === k + 1 ? 1 : 0)),
      ),
    ],
    value,
    week,
  )
  const [a, b] = [fit.beta[2]!, fit.beta[3]!]
  return {
    known: true,
    at(t) {
      const [cos, sin] = harmonics(Float64Array.of(t), YEAR, 1)
      return a * cos![0]! + b * sin![0]!
    },
    variance: () => (fit.se[2]! ** 2 + fit.se[3]! ** 2) / 2,
  }
}

/** Present level, and the local slope drawn towards none by its prior. */
function localLine(
  week: Float64Array,
  value: Float64Array,
): { level: number; levelVariance: number; slope: number; slopeVariance: number } {
  const now = week.at(-1)!
  const near: number[] = []
  for (let i = week.length - 1; i >= 0 && week[i]! > now - LOCAL_WEEKS; i--) near.push(i)
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
  const error = Math.max(0.02 ** 2, left / Math.max(1, near.length - 2))
  // Weeks follow each other: the slope is less sure than independent weeks would make it.
  const rawVariance = xx > 0 ? (3 * error) / xx : Infinity
  const prior = SLOPE_PRIOR_SD ** 2
  const believe = prior / (prior + rawVariance)
  const slope = raw * believe
  const latest = near.filter((i) => week[i]! > now - LEVEL_WEEKS)
  const level =
    latest.reduce((sum, i) => sum + value[i]! - slope * (week[i]! - now), 0) / latest.length
  return {
    level,
    levelVariance: error / latest.length,
    slope,
    slopeVariance: Number.isFinite(rawVariance) ? believe * rawVariance : prior,
  }
}

/** Variance that is added each week, and that of a week about its level; drawn towards what beds do. */
function wandering(
  week: Float64Array,
  value: Float64Array,
  piece: Int32Array,
): { wander: number; noise: number } {
  const squaresAt = (lag: number): { mean: number; n: number } => {
    let sum = 0
    let n = 0
    for (let i = 0, j = 0; j < week.length; j++) {
      while (week[j]! - week[i]! > lag) i++
      if (week[j]! - week[i]! !== lag || piece[i] !== piece[j] || piece[i] === -1) continue
      sum += (value[j]! - value[i]!) ** 2
      n++
    }
    return { mean: n === 0 ? NaN : sum / n, n }
  }
  const one = squaresAt(1)
  const four = squaresAt(4)
  const own = Math.max(0, (four.mean - one.mean) / 3)
  const weight = Number.isFinite(own) ? four.n / 4 : 0
  const wander =
    ((Number.isFinite(own) ? own : 0) * weight + WANDER_SD ** 2 * WANDER_WEIGHT) /
    (weight + WANDER_WEIGHT)
  const noise = Number.isFinite(one.mean) ? Math.max(0.01 ** 2, (one.mean - own) / 2) : 0.05 ** 2
  return { wander, noise }
}

const sideOf = (value: number, band: PhBand): 'inside' | 'below' | 'above' =>
  value < band.low ? 'below' : value > band.high ? 'above' : 'inside'

function leaving(
  out: { time: Float64Array; middle: Float64Array; sd: Float64Array },
  band: PhBand,
  now: number,
  freedom: number,
): BandForecast['leaves'] {
  if (sideOf(now, band) !== 'inside') return null
  const reach = tQuantile(0.9, freedom)
  const crossing = (edge: 'low' | 'high', shift: number): number | null => {
    for (const [h, at] of out.time.entries()) {
      const value = out.middle[h]! + shift * out.sd[h]!
      if (edge === 'low' ? value < band.low : value > band.high) return at
    }
    return null
  }
  const through = (['low', 'high'] as const).map((edge) => {
    const away = edge === 'low' ? -1 : 1
    return {
      edge,
      median: crossing(edge, 0),
      earliest: crossing(edge, away * reach),
      latest: crossing(edge, -away * reach),
    }
  })
  // The edge its middle course comes to first; else the one that may be come to first.
  const [first] = through
    .filter(({ earliest }) => earliest !== null)
    .toSorted((a, b) => soonest(a.median, b.median) || soonest(a.earliest, b.earliest))
  return first ?? null
}

const soonest = (a: number | null, b: number | null): number =>
  a === b ? 0 : (a ?? Infinity) - (b ?? Infinity)
