import { normalQuantile } from '../stats/normal-quantile.ts'
import type { OwnNoise } from './own-noise.ts'

/**
 * Week-to-week correlation of the difference of two beds as it is usually found, and its spread: a working figure of
 * this house, not published.
 */
const USUAL_RHO = 0.6
const USUAL_RHO_SD = 0.15
/** How sure a plan is that the noise is not larger than it reckons with. */
const SURE = 0.8

/**
 * The noise a plan should reckon with. A short past shows too little of it, and a trial planned on the plain
 * estimate misses its power about as often as not: so the upper 80 % limit of the variance is taken (Browne,
 * Statistics in Medicine 14, 1995, from memory), and the correlation is drawn towards the usual one.
 */
export function cautiousNoise({ variance, rho, weeks, freedom }: OwnNoise): {
  readonly variance: number
  readonly rho: number
} {
  return {
    variance: (variance * freedom) / chiSquareQuantile(1 - SURE, freedom),
    rho: usualRho(rho, weeks),
  }
}

/** A correlation found in so many weeks, drawn towards the usual one: by much when they are few. */
export function usualRho(rho: number, weeks: number): number {
  const own = weeks / (1 - USUAL_RHO ** 2)
  const usual = 1 / USUAL_RHO_SD ** 2
  return (own * rho + usual * USUAL_RHO) / (own + usual)
}

/** Wilson and Hilferty 1931, within 2 % where it is used here. */
function chiSquareQuantile(p: number, freedom: number): number {
  const share = 2 / (9 * freedom)
  return freedom * Math.max(0.02, 1 - share + normalQuantile(p) * Math.sqrt(share)) ** 3
}
