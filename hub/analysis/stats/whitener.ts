/**
 * What frees columns of first-order correlation (Prais and Winsten 1954): each value less what the one before
 * foretells, which after a gap of k steps is rho^k of it; all with the variance of the fresh errors of one step.
 *
 * @param step whole steps, ascending, gaps allowed
 * @param rho correlation one step apart, from 0 to below 1
 * @throws RangeError when the steps do not ascend or `rho` is out of range
 */
export function whitener(step: Float64Array, rho: number): (column: Float64Array) => Float64Array {
  if (!(rho >= 0 && rho < 1)) throw new RangeError(`rho must be from 0 to below 1, got ${rho}`)
  const n = step.length
  const fresh = Math.sqrt(1 - rho * rho)
  const own = new Float64Array(n).fill(fresh)
  const before = new Float64Array(n)
  for (let i = 1; i < n; i++) {
    const gap = step[i]! - step[i - 1]!
    if (!(gap > 0)) throw new RangeError(`steps must ascend, got ${step[i - 1]} then ${step[i]}`)
    const keep = rho ** gap
    own[i] = fresh / Math.sqrt(1 - keep * keep)
    before[i] = keep * own[i]!
  }
  return (column) => {
    const out = new Float64Array(n)
    if (n > 0) out[0] = own[0]! * column[0]!
    for (let i = 1; i < n; i++) out[i] = own[i]! * column[i]! - before[i]! * column[i - 1]!
    return out
  }
}
