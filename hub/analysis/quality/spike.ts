import type { SpotHistory } from '../measure/spot-history.ts'
import { NEIGHBOURS_MS } from './own-noise.ts'
import { QARTOD, flagColumn } from './qartod.ts'

/** A spike stands out from both neighbours by so many pH at least, and so many of the usual changes. */
const SPIKE = { suspect: { ph: 0.2, changes: 6 }, fail: { ph: 0.5, changes: 15 } } as const

/**
 * Spike test: how far a value stands out, on the same side, from the one before and the one after. The manual takes
 * the distance to the mean of both, which also marks both sides of a step; a step is not a spike. Fails only in raw
 * readings: the median of an hour lets no lone spike through, so what stands out there has a longer cause. The first
 * and last value and those without near neighbours are not evaluated.
 *
 * @param usual usual change from one value to the next, pH
 */
export function spike(
  { time, ph, step }: Pick<SpotHistory, 'time' | 'ph' | 'step'>,
  usual: number,
): Uint8Array {
  const flags = flagColumn(ph, QARTOD.notEvaluated)
  if (step === 'day') return flags
  const suspect = Math.max(SPIKE.suspect.ph, SPIKE.suspect.changes * usual)
  const fail = Math.max(SPIKE.fail.ph, SPIKE.fail.changes * usual)
  const next = nextRows(ph)
  let before = -1
  for (let row = 0; row < ph.length; row++) {
    if (flags[row] === QARTOD.missing) continue
    const after = next[row]!
    if (
      before >= 0 &&
      after < ph.length &&
      time[row]! - time[before]! <= NEIGHBOURS_MS &&
      time[after]! - time[row]! <= NEIGHBOURS_MS
    ) {
      const up = ph[row]! - ph[before]!
      const down = ph[row]! - ph[after]!
      const out = up * down > 0 ? Math.min(Math.abs(up), Math.abs(down)) : 0
      if (out > fail && step === 'raw') flags[row] = QARTOD.fail
      else flags[row] = out > suspect ? QARTOD.suspect : QARTOD.pass
    }
    before = row
  }
  return flags
}

/** For each row the next one with a value. */
function nextRows(ph: Float64Array): Uint32Array {
  const next = new Uint32Array(ph.length)
  let after = ph.length
  for (let row = ph.length - 1; row >= 0; row--) {
    next[row] = after
    if (!Number.isNaN(ph[row])) after = row
  }
  return next
}
