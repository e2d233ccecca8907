import type { PhBand } from '../model/bed.ts'
import type { Present, Standing } from './assessment.ts'

/** Inside by this much is inside, whatever the interval says, pH. */
const INSIDE_BY = 0.1
/** Outside by more than this is outside: errors of sampling and reading are 0.1 to 0.25 pH. */
const OUTSIDE_BY = 0.2

/**
 * Where a bed stands against its band. In the band: the whole interval is, or the value by at least 0.1 (in a
 * narrow band by a quarter of it). Below or above: the whole interval is, or the value by more than 0.2.
 * Anything else is too near to call.
 */
export function standingOf(present: Present, band: PhBand | null): Standing {
  if (present.status !== 'ok' || band === null) return 'unknown'
  const { value, halfWidth } = present
  const margin = Math.min(INSIDE_BY, (band.high - band.low) / 4)
  // Decimals as printed: 6.0 + 0.1 must not miss 6.1 by a rounding error.
  const slack = 1e-9
  const inside = Math.min(value - band.low, band.high - value)
  if (inside >= halfWidth - slack || inside >= margin - slack) return 'in band'
  const under = band.low - value
  if (under > OUTSIDE_BY + slack || under > halfWidth) return 'below'
  const over = value - band.high
  if (over > OUTSIDE_BY + slack || over > halfWidth) return 'above'
  return 'unsure'
}
