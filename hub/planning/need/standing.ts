import {
  AIM_INSIDE_PH,
  BAND_TOLERANCE_PH,
  LEAST_VALID_DAYS,
} from '../../agronomy/planning-limits.ts'
import type { PhBand } from '../../model/bed.ts'
import type { Coming } from '../coming.ts'
import type { Need } from '../need.ts'
import type { LevelNow } from './level-now.ts'

/**
 * Outside is called outside when all of the 90 % interval lies there, or the median by more than the tolerance and the
 * interval does not reach so far in that the bed may well be where it should be.
 */
export function standingOf(
  level: LevelNow | null,
  band: PhBand,
  coming: Coming | null,
): Exclude<Need['verdict'], 'no band'> {
  if (level === null || level.days < LEAST_VALID_DAYS.value) return 'cannot tell'
  const { value, half90 } = level
  const below = band.low - value
  const above = value - band.high
  const out = Math.max(below, above)
  if (out <= 0) return 'none'
  const wholly = half90 < out
  if (!wholly && out <= BAND_TOLERANCE_PH.value) return 'none'
  const inside = Math.min(AIM_INSIDE_PH.value, (band.high - band.low) / 2)
  if (!wholly && half90 - out > inside) return 'cannot tell'
  // What is on its way already may be enough.
  const way = below > 0 ? 'raise' : 'lower'
  const later = value + alongTheWay(coming, below > 0 ? 1 : -1)
  const enough = way === 'raise' ? later >= band.low : later <= band.high
  return enough ? 'none' : way
}

/** Just inside the near edge, never past the middle of the band; the gardener's own aim where it lies inside. */
export function aimOf(band: PhBand, level: LevelNow | null, own: number | null): number {
  if (own !== null && own >= band.low && own <= band.high) return own
  const middle = (band.low + band.high) / 2
  const below = level === null || level.value < middle
  return below
    ? Math.min(middle, band.low + AIM_INSIDE_PH.value)
    : Math.max(middle, band.high - AIM_INSIDE_PH.value)
}

/** Apart by less than this the two say the same, pH. */
const SAME_PH = 0.1

/** Of what the probes and what the sample say, the one that needs less. */
export function nearerOf(level: number, bySample: number | null, way: 1 | -1): number {
  return bySample !== null && way * (bySample - level) > SAME_PH ? bySample : level
}

/** What is to come the same way counts against the dose; what works against it is waited for, not dosed for. */
export function alongTheWay(coming: Coming | null, way: 1 | -1): number {
  return coming !== null && coming.value * way > 0 ? coming.value : 0
}
