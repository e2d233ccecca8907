import type { WeekTable } from './bed-weeks.ts'

/** How the members of a group wander each for itself, what moves all of them taken out. */
export interface OwnNoise {
  /** Variance of one member's weekly value about its own level and the common course, pH squared. */
  readonly variance: number
  /** Correlation of neighbouring weeks, corrected for a short record, 0 to 0.97. */
  readonly rho: number
  readonly weeks: number
  /** Independent values the variance is worth. */
  readonly freedom: number
}

const MOST_RHO = 0.97
const LEAST_WEEKS = 8
/** A short past that follows itself closely is still worth a few values. */
const LEAST_WORTH = 6

/**
 * Two-way residuals (value less the member's mean less the week's mean), pooled over the members, and their
 * lag-one correlation with the correction of `arRegression`. Uses the weeks in which every member has a
 * value; null with fewer than two members or eight such weeks.
 */
export function ownNoise({ step, rows }: WeekTable): OwnNoise | null {
  const members = rows.length
  const whole = Array.from(step, (_, i) => i).filter((i) =>
    rows.every((row) => Number.isFinite(row[i]!)),
  )
  const weeks = whole.length
  if (members < 2 || weeks < LEAST_WEEKS) return null
  const weekMean = whole.map((i) => rows.reduce((sum, row) => sum + row[i]!, 0) / members)
  let square = 0
  let cross = 0
  let pairs = 0
  for (const row of rows) {
    const apart = whole.map((i, w) => row[i]! - weekMean[w]!)
    const level = apart.reduce((sum, value) => sum + value, 0) / weeks
    for (const [w, value] of apart.entries()) {
      square += (value - level) ** 2
      if (w === 0 || step[whole[w]!]! - step[whole[w - 1]!]! !== 1) continue
      cross += (value - level) * (apart[w - 1]! - level)
      pairs++
    }
  }
  // Nothing moved at all: nothing follows anything.
  const raw = square === 0 || pairs === 0 ? 0 : cross / pairs / (square / (members * weeks))
  const rho = Math.min(MOST_RHO, Math.max(0, raw > 0.1 ? raw + (3 + 2 * raw) / weeks : raw))
  // The level is taken from weeks that follow each other: fewer are worth counting, the spread is larger.
  const worth = Math.max(LEAST_WORTH, (weeks * (1 - rho)) / (1 + rho))
  const variance = (square / (weeks * (members - 1))) * (worth / (worth - 1))
  return { variance, rho, weeks, freedom: (worth - 1) * (members - 1) }
}
