import { normalCdf } from './distributions.ts'
import { solveRising } from './solve-rising.ts'

/** Quantile of the standard normal distribution, within 1e-6; `p` in (0, 1). */
export function normalQuantile(p: number): number {
  return solveRising((x) => normalCdf(x) - p, -9, 9)
}
