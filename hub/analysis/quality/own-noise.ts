import { HOUR } from '../../model/clock.ts'
import type { SpotHistory } from '../measure/spot-history.ts'
import { sortedFinite } from '../stats/median.ts'

/** Readings further apart than this are not neighbours. */
export const NEIGHBOURS_MS = 3 * HOUR

/**
 * How much the pH usually changes from one reading to the next, as a standard deviation (1.4826 times the median
 * size of the changes); 0 when there are none to go by.
 */
export function usualChange({ time, ph }: Pick<SpotHistory, 'time' | 'ph'>): number {
  const changes = new Float64Array(ph.length).fill(NaN)
  for (let row = 1; row < ph.length; row++) {
    if (time[row]! - time[row - 1]! > NEIGHBOURS_MS) continue
    changes[row] = Math.abs(ph[row]! - ph[row - 1]!)
  }
  const sorted = sortedFinite(changes)
  return sorted.length === 0 ? 0 : 1.4826 * sorted[sorted.length >> 1]!
}
