import type { PhBand } from '../../model/bed.ts'
import { DAY } from '../../model/clock.ts'
import type { DailySeries } from '../aggregate/daily-series.ts'
import { WEEK, weeklyMedians } from '../aggregate/weekly-medians.ts'
import type { Insufficient } from '../assessment.ts'
import { normalCdf } from '../stats/distributions.ts'
import { tQuantile } from '../stats/t-quantile.ts'
import { type LevelBreak, levelPieces } from '../drift/level-pieces.ts'
import { localLine } from './local-line.ts'
import { seasonOf } from './season-of.ts'
import { stillToCome } from './still-to-come.ts'
import { wandering } from './wandering.ts'
import { say } from '../../words/say.ts'

const LEAST_DAYS = 28
/** The local slope dies away by this share a week. */
const DAMPING = 0.9
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
  const all = weeklyMedians(series)
  const { step: week, time, value } = all
  const n = week.length
  const days = series.day.length
  if (n < 4 || days < LEAST_DAYS) {
    return {
      status: 'insufficient',
      have: days === 1 ? say`${days} day with a bed value` : say`${days} days with a bed value`,
      need: say`${LEAST_DAYS} days`,
    }
  }
  const age = options.at - series.day.at(-1)!
  if (age > 21 * DAY) {
    return {
      status: 'insufficient',
      have: say`the newest day with a bed value is ${Math.round(age / DAY)} days ago`,
      need: say`a value of the last three weeks`,
    }
  }
  const { piece } = levelPieces(time, options.breaks ?? [])
  const season = seasonOf(all, piece)
  const free = value.map((v, i) => v - season.at(time[i]!))
  const coming = stillToCome(options.breaks ?? [], options.at)
  const { level, levelVariance, slope, slopeVariance, believed } = localLine(
    week,
    free,
    Math.floor(coming.from / WEEK),
  )
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
  const reach = QUANTILES.map((p) => tQuantile(p, freedom))
  for (let h = 0; h < horizon; h++) {
    const at = options.at + (h + 1) * WEEK
    const ahead = lag + h + 1
    const damped = (DAMPING * (1 - DAMPING ** ahead)) / (1 - DAMPING)
    // What the bed's own weeks do not show yet of a treatment at work.
    const more = coming.within((ahead * WEEK) / DAY)
    const middle = level + slope * damped + (1 - believed) * more.mean + season.at(at)
    const variance =
      levelVariance +
      slopeVariance * damped * damped +
      wander * ahead +
      noise / 3 +
      season.variance(ahead) +
      more.variance * (1 - believed) +
      // The mean error of the spots and electrodes does not average out.
      (series.se.at(-1) ?? 0) ** 2 * 0.25
    const sd = Math.sqrt(variance)
    out.time[h] = at
    out.middle[h] = middle
    out.sd[h] = sd
    for (const [i, own] of reach.entries()) out.fan[i]![h] = middle + own * sd
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
