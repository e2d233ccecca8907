/** How unusual the difference of the two groups is among all ways to have chosen the treated beds. */
export interface Permutation {
  /** Ways to choose, the true one among them. */
  readonly ways: number
  /** Ways whose difference is at least as large, whichever its sign; the true one counts. */
  readonly asLarge: number
}

const MOST_BEDS = 14
/** Sums in another order differ in the last digits. */
const ROUNDING = 1e-9

/**
 * Exact permutation test of a difference of means (Fisher 1935, from memory). Null when a change is not known or
 * there are more than 14 beds.
 */
export function permutation(
  treated: readonly number[],
  untreated: readonly number[],
): Permutation | null {
  const all = [...treated, ...untreated]
  const n = all.length
  const k = treated.length
  if (k === 0 || k === n || n > MOST_BEDS || !all.every((value) => Number.isFinite(value))) {
    return null
  }
  const total = all.reduce((sum, value) => sum + value, 0)
  const gap = (chosen: number): number => Math.abs(chosen / k - (total - chosen) / (n - k))
  const seen = gap(treated.reduce((sum, value) => sum + value, 0))
  let ways = 0
  let asLarge = 0
  const choose = (from: number, left: number, sum: number): void => {
    if (left === 0) {
      ways++
      if (gap(sum) >= seen - ROUNDING) asLarge++
      return
    }
    for (let i = from; i <= n - left; i++) choose(i + 1, left - 1, sum + all[i]!)
  }
  choose(0, k, 0)
  return { ways, asLarge }
}
