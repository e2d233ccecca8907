/** Least wandering of a bed, pH per root of a week, and how many weeks that prior weighs like. */
const WANDER_SD = 0.035
const WANDER_WEIGHT = 12

/** Variance that is added each week, and that of a week about its level; drawn towards what beds do. */
export function wandering(
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
