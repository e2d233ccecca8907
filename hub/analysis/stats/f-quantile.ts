import { incompleteBeta } from './incomplete-beta.ts'
import { checkFreedom, checkProbability } from './probability.ts'
import { solveRising } from './solve-rising.ts'

/**
 * Quantile of the F distribution, within 1e-9 of its value.
 *
 * @param p between 0 and 1
 * @param d1 degrees of freedom of the numerator, positive
 * @param d2 degrees of freedom of the denominator, positive
 * @throws RangeError for anything else, NaN included
 */
export function fQuantile(p: number, d1: number, d2: number): number {
  checkProbability(p)
  checkFreedom(d1)
  checkFreedom(d2)
  const cdf = (f: number): number => incompleteBeta((d1 * f) / (d1 * f + d2), d1 / 2, d2 / 2)
  let high = 2
  while (cdf(high) < p) high *= 2
  return solveRising((f) => cdf(f) - p, 0, high)
}
