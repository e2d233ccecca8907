import { incompleteBeta } from './incomplete-beta.ts'
import { solveRising } from './solve-rising.ts'

/** Quantile of the F distribution with `d1` and `d2` degrees of freedom. */
export function fQuantile(p: number, d1: number, d2: number): number {
  const cdf = (f: number): number => incompleteBeta((d1 * f) / (d1 * f + d2), d1 / 2, d2 / 2)
  let high = 2
  while (cdf(high) < p) high *= 2
  return solveRising((f) => cdf(f) - p, 0, high)
}
