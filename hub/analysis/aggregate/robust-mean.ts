import { Z, studentQuantile } from '../stats/distributions.ts'
import { median } from '../stats/median.ts'

/** How far spots of one bed lie apart by nature, before a single reading was seen. */
export interface Spread {
  /** Typical distance of a sound spot from the bed value: the scale of the Huber weights. */
  readonly scale: number
  /** Variance of one spot about the bed value: the prior that keeps few spots from looking sure. */
  readonly variance: number
  /** Variance of what all spots have in common, which no number of them averages out. @default 0 */
  readonly common?: number
}

export interface RobustMean {
  readonly value: number
  /** Half-width of the 95 % interval. */
  readonly halfWidth: number
  readonly n: number
  /** Two values too far apart to be averaged in good faith: the interval spans both. */
  readonly disagree: boolean
}

/** Tuning constant with 95 % efficiency for normal data; Huber 1964, from memory. */
const HUBER_C = 1.345
/** The prior variance weighs like this many readings. */
const PRIOR_FREEDOM = 8
/** Two spots further apart than this many scales disagree: 0.6 pH with the pH scale of 0.15. */
const DISAGREE_SCALES = 4
const ITERATIONS = 20

/**
 * Huber mean of a few values, one bad one of three moving it by little, with a 95 % interval by Student's t
 * in which the prior variance counts as eight readings. NaN values are left out; none left gives NaN.
 */
export function robustMean(values: readonly number[], spread: Spread): RobustMean {
  const finite = values.filter((value) => Number.isFinite(value))
  const n = finite.length
  if (n === 0) return { value: NaN, halfWidth: NaN, n, disagree: false }
  const reach = HUBER_C * spread.scale
  const weight = (value: number, centre: number): number =>
    Math.min(1, reach / Math.max(Math.abs(value - centre), 1e-12))

  let centre = median(finite)
  for (let iteration = 0; iteration < ITERATIONS && n > 1; iteration++) {
    let sum = 0
    let weights = 0
    for (const value of finite) {
      const w = weight(value, centre)
      weights += w
      sum += w * value
    }
    const next = sum / weights
    const moved = Math.abs(next - centre)
    centre = next
    if (moved < 1e-9) break
  }
  let weights = 0
  let squares = 0
  for (const value of finite) {
    const w = weight(value, centre)
    weights += w
    squares += w * (value - centre) ** 2
  }
  const freedom = PRIOR_FREEDOM + n - 1
  const variance = (PRIOR_FREEDOM * spread.variance + squares) / freedom
  const common = spread.common ?? 0
  let halfWidth = studentQuantile(Z.two95, freedom) * Math.sqrt(variance / weights + common)
  const gap = n === 2 ? Math.abs(finite[0]! - finite[1]!) : 0
  const disagree = gap > DISAGREE_SCALES * spread.scale
  if (disagree) {
    halfWidth =
      gap / 2 + studentQuantile(Z.two95, PRIOR_FREEDOM) * Math.sqrt(spread.variance + common)
  }
  return { value: centre, halfWidth, n, disagree }
}
