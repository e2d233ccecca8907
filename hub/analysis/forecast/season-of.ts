import { WEEK, type WeeklySeries } from '../aggregate/weekly-medians.ts'
import { YEAR } from '../drift/soil-trend.ts'
import { arRegression } from '../stats/ar-regression.ts'
import { harmonics } from '../stats/harmonics.ts'

/** A year and a half of weeks before the season is used to look ahead. */
const SEASON_WEEKS = 78
/** Half the swing of a season that is not known yet, pH: beds swing by 0.1 to 0.8 over a year. */
const UNKNOWN_SEASON = 0.1

/** The yearly wave of a bed. */
export interface Season {
  readonly known: boolean
  at(time: number): number
  /** So many weeks ahead. */
  variance(weeks: number): number
}

/** Season by one harmonic beside a trend and a level for each piece (see `levelPieces`); not known, none and a doubt. */
export function seasonOf(all: WeeklySeries, piece: Int32Array): Season {
  const kept = (column: Float64Array): Float64Array => column.filter((_, i) => piece[i]! >= 0)
  const { week, time, value } = {
    week: kept(all.step),
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
