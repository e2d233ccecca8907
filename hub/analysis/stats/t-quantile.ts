import { incompleteBeta } from './incomplete-beta.ts'
import { solveRising } from './solve-rising.ts'

function tCdf(t: number, freedom: number): number {
  const tail = incompleteBeta(freedom / (freedom + t * t), freedom / 2, 0.5) / 2
  return t > 0 ? 1 - tail : tail
}

/** Quantile of Student's t distribution. `freedom` > 0 need not be whole; `p` in (0, 1). */
export function tQuantile(p: number, freedom: number): number {
  if (p === 0.5) return 0
  if (p < 0.5) return -tQuantile(1 - p, freedom)
  let high = 2
  while (tCdf(high, freedom) < p) high *= 2
  return solveRising((t) => tCdf(t, freedom) - p, 0, high)
}
