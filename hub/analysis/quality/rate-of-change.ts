import type { SpotHistory } from '../measure/spot-history.ts'
import { NEIGHBOURS_MS } from './own-noise.ts'
import { QARTOD, flagColumn } from './qartod.ts'

/** A change from one value to the next beyond this is not soil: a day may bring 0.3 without a quick material. */
const FAST = { ph: 0.3, changes: 8 } as const

/**
 * Rate of change test: suspect where a value differs from the one before by more than soil does and than this probe
 * usually does. As in the manual it never fails a value: which of the two is wrong it cannot tell.
 *
 * @param usual usual change from one value to the next, pH
 */
export function rateOfChange(
  { time, ph, step }: Pick<SpotHistory, 'time' | 'ph' | 'step'>,
  usual: number,
): Uint8Array {
  const flags = flagColumn(ph, QARTOD.notEvaluated)
  if (step === 'day') return flags
  const fast = Math.max(FAST.ph, FAST.changes * usual)
  let before = -1
  for (let row = 0; row < ph.length; row++) {
    if (flags[row] === QARTOD.missing) continue
    if (before >= 0 && time[row]! - time[before]! <= NEIGHBOURS_MS) {
      const change = Math.abs(ph[row]! - ph[before]!)
      flags[row] = change > fast ? QARTOD.suspect : QARTOD.pass
    }
    before = row
  }
  return flags
}
