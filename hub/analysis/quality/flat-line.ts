import { HOUR } from '../../model/clock.ts'
import type { SpotHistory } from '../measure/spot-history.ts'

/** So many identical values over at least so long are a stuck probe, not a quiet soil. */
const FINE = { readings: 12, lastingMs: 3 * HOUR } as const
/** A probe that only shows tenths may well stay on one for most of a day. */
const COARSE = { readings: 12, lastingMs: 24 * HOUR } as const
/** pH steps above this are coarse; one step must be smaller than the noise of a sound electrode. */
const COARSE_PH = 0.03

/**
 * Marks (1) the rows in which the electrical value has stood still for too long. The first row of such a run
 * is left: it was measured once. In rolled-up rows the value stood still when lowest and highest are equal.
 */
export function flatLine(history: SpotHistory): Uint8Array {
  const { time, rawPh, rawPhMin, rawPhMax, phCount, step } = history
  const flags = new Uint8Array(time.length)
  const rowMs = step === 'raw' ? 0 : step === 'hour' ? HOUR : 24 * HOUR
  const limit = resolution(history) > COARSE_PH ? COARSE : FINE
  let run: number[] = []
  let readings = 0
  const close = (): void => {
    const first = run[0]
    const last = run.at(-1)
    if (first !== undefined && last !== undefined) {
      const lasting = time[last]! - time[first]! + rowMs
      if (readings >= limit.readings && lasting >= limit.lastingMs) {
        for (const row of run.slice(step === 'raw' ? 1 : 0)) flags[row] = 1
      }
    }
    run = []
    readings = 0
  }
  for (let row = 0; row < time.length; row++) {
    if (Number.isNaN(rawPh[row])) continue
    const still = rawPhMin[row] === rawPhMax[row]
    const first = run[0]
    if (first !== undefined && (!still || rawPh[row] !== rawPh[first])) close()
    if (!still) continue
    run.push(row)
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
