import { normalCdf } from './distributions.ts'
import { checkProbability } from './probability.ts'
import { solveRising } from './solve-rising.ts'

/** Far enough out for every probability a double can hold. */
const FARTHEST = 39

/**
 * Quantile of the standard normal distribution, within 1e-12.
 *
 * @param p between 0 and 1
 * @throws RangeError for any other `p`, NaN included
 */
export function normalQuantile(p: number): number {
  checkProbability(p)
  // In the lower half the distribution function keeps its digits.
  if (p > 0.5) return -normalQuantile(1 - p)
  return solveRising((x) => normalCdf(x) - p, -FARTHEST, 0)
}
