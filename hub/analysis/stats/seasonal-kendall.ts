import { checkColumn } from './check-column.ts'
import { twoSidedP } from './distributions.ts'
import { kendallS, kendallVariance, kendallZ } from './mann-kendall.ts'
import { median } from './median.ts'

export interface SeasonalKendall {
  /** Sum of the seasons' S. */
  readonly s: number
  /** Sum of the seasons' variances: right when the seasons of a year are independent. */
  readonly variance: number
  /** With the covariances between seasons (Hirsch and Slack 1984): for neighbours that follow each other. */
  readonly correctedVariance: number
  readonly p: number
  readonly correctedP: number
  /** Seasonal Sen slope, per year: median over pairs of the same season. */
  readonly slope: number
}

/**
 * Seasonal Kendall test and slope (Hirsch, Slack and Smith 1982): only like seasons are compared, so the season
 * drops out.
 *
 * @param season whole number of the season of each value (a month, a week)
 * @param year whole number of its year; one value per season and year, missing ones left out
 * @throws RangeError when a season has two values in one year, or a value is NaN or infinite
 */
export function seasonalKendall(
  value: Float64Array,
  season: Int32Array,
  year: Int32Array,
): SeasonalKendall {
  checkColumn(value, season.length, 'value')
  const years = Array.from(new Set(year)).toSorted((a, b) => a - b)
  const column = new Map<number, Float64Array>()
  for (const [i, own] of season.entries()) {
    const values = column.get(own) ?? new Float64Array(years.length).fill(NaN)
    const at = years.indexOf(year[i]!)
    if (!Number.isNaN(values[at])) {
      throw new RangeError(`season ${own} of year ${year[i]} has two values, expected one`)
    }
    values[at] = value[i]!
    column.set(own, values)
  }
  const columns = Array.from(column.values())
  const slopes: number[] = []
  let s = 0
  let variance = 0
  for (const values of columns) {
    const present = values.filter((v) => !Number.isNaN(v))
    s += kendallS(present)
    variance += kendallVariance(present)
    for (let i = 0; i < years.length; i++) {
      for (let j = i + 1; j < years.length; j++) {
        const slope = (values[j]! - values[i]!) / (years[j]! - years[i]!)
        if (!Number.isNaN(slope)) slopes.push(slope)
      }
    }
  }
  let correctedVariance = variance
  for (const [g, a] of columns.entries()) {
    for (const b of columns.slice(g + 1)) correctedVariance += 2 * covariance(a, b)
  }
  const pOf = (of: number): number => twoSidedP(kendallZ(s, of))
  return {
    s,
    variance,
    correctedVariance,
    p: pOf(variance),
    correctedP: pOf(correctedVariance),
    slope: median(slopes),
  }
}

/** Covariance of the S of two seasons by their ranks (Dietz and Killeen 1981), missing years at the middle rank. */
function covariance(a: Float64Array, b: Float64Array): number {
  const n = a.length
  let k = 0
  for (let i = 0; i < n; i++) {
    for (let j = i + 1; j < n; j++) {
      const both = (a[j]! - a[i]!) * (b[j]! - b[i]!)
      if (!Number.isNaN(both)) k += Math.sign(both)
    }
  }
  const present = (values: Float64Array): number =>
    values.reduce((c, v) => c + (Number.isNaN(v) ? 0 : 1), 0)
  const ra = ranks(a)
  const rb = ranks(b)
  let sum = 0
  for (let i = 0; i < n; i++) sum += ra[i]! * rb[i]!
  return (k + 4 * sum - n * (present(a) + 1) * (present(b) + 1)) / 3
}

function ranks(values: Float64Array): Float64Array {
  const n = values.reduce((c, v) => c + (Number.isNaN(v) ? 0 : 1), 0)
  return values.map((own) => {
    if (Number.isNaN(own)) return (n + 1) / 2
    let rank = (n + 1) / 2
    for (const other of values) {
      if (!Number.isNaN(other)) rank += Math.sign(own - other) / 2
    }
    return rank
  })
}
