import { incompleteBeta } from './incomplete-beta.ts'
import { checkFreedom, checkProbability } from './probability.ts'
import { solveRising } from './solve-rising.ts'

/**
 * Quantile of Student's t distribution, within 1e-9 of its value.
 *
 * @param p between 0 and 1
 * @param freedom degrees of freedom, positive, need not be whole
 * @throws RangeError for anything else, NaN included
 */
export function tQuantile(p: number, freedom: number): number {
  checkProbability(p)
  checkFreedom(freedom)
  if (p === 0.5) return 0
  if (p < 0.5) return -tQuantile(1 - p, freedom)
  const above = 1 - p
  const tail = (t: number): number =>
    incompleteBeta(freedom / (freedom + t * t), freedom / 2, 0.5) / 2
  let high = 2
  while (tail(high) > above) high *= 2
  return solveRising((t) => above - tail(t), 0, high)
}
