import { HOUR } from '../../model/clock.ts'
import type { SpotHistory } from '../measure/spot-history.ts'
import { QARTOD, flagColumn } from './qartod.ts'

interface Limit {
  readonly readings: number
  readonly lastingMs: number
}
/** So many identical values over at least so long are a stuck probe, not a quiet soil. */
const FINE = { readings: 12, lastingMs: 3 * HOUR } as const
/** Two thirds of that are worth a doubt. */
const FINE_SUSPECT = { readings: 8, lastingMs: 2 * HOUR } as const
/** A probe that shows hundredths stays on one for hours in quiet soil (seen in open series of wells), and needs no doubt before a day. */
const COARSE = { readings: 12, lastingMs: 24 * HOUR } as const
/** pH steps above this are coarse: hour by hour a sound electrode in quiet soil moves by 0.005 and less. */
export const COARSE_PH = 0.005

/**
 * Flat line test: fails the rows in which the electrical value has stood still for too long, doubts those in which it
 * soon will have. The first row of such a run passes: it was measured once. In rolled-up rows the value stood still
 * when lowest and highest are equal.
 */
export function flatLine(history: SpotHistory): Uint8Array {
  const { time, rawPh, rawPhMin, rawPhMax, phCount, step } = history
  const flags = flagColumn(history.ph, QARTOD.pass)
  const rowMs = step === 'raw' ? 0 : step === 'hour' ? HOUR : 24 * HOUR
  const coarse = resolution(history) > COARSE_PH
  const limits = { fail: coarse ? COARSE : FINE, suspect: coarse ? COARSE : FINE_SUSPECT }
  /** First and last row of the run that is under way; -1: none is. */
  let first = -1
  let last = -1
  let readings = 0
  const close = (): void => {
    if (first >= 0) {
      const lasting = time[last]! - time[first]! + rowMs
      const reaches = (limit: Limit): boolean =>
        readings >= limit.readings && lasting >= limit.lastingMs
      if (reaches(limits.suspect)) {
        const flag = reaches(limits.fail) ? QARTOD.fail : QARTOD.suspect
        for (let row = step === 'raw' ? first + 1 : first; row <= last; row++) {
          if (!Number.isNaN(rawPh[row])) flags[row] = flag
        }
      }
    }
    first = -1
    readings = 0
  }
  for (let row = 0; row < time.length; row++) {
    if (Number.isNaN(rawPh[row])) continue
    const still = rawPhMin[row] === rawPhMax[row]
    if (first >= 0 && (!still || rawPh[row] !== rawPh[first])) close()
    if (!still) continue
    if (first < 0) first = row
    last = row
    readings += phCount[row]!
  }
  close()
  return flags
}

/** What the probe said of its step, else the smallest step seen between rows. */
function resolution(history: SpotHistory): number {
  if (Number.isFinite(history.resolutionPh)) return history.resolutionPh
  let smallest = Infinity
  let previous = NaN
  for (const ph of history.ph) {
    if (Number.isNaN(ph)) continue
    const change = Math.abs(ph - previous)
    // Temperature compensation moves a standing value by less than this from row to row.
    if (change > 0.002 && change < smallest) smallest = change
    previous = ph
  }
  return Number.isFinite(smallest) ? smallest : 0
}
