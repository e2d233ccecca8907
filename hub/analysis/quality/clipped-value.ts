import type { SpotHistory } from '../measure/spot-history.ts'
import { QARTOD, flagColumn } from './qartod.ts'
import { WIRE } from './wire-flags.ts'

/**
 * Fail where the electrical value stood at the end of what the probe can measure. Where only the probe says that
 * something was clipped, suspect: it does not say which of its channels.
 *
 * @param wire bits the probe sent with each row, or null when they are not at hand
 */
export function clippedValue(
  { ph, clipped }: Pick<SpotHistory, 'ph' | 'clipped'>,
  wire: Uint8Array | null,
): Uint8Array {
  const flags = flagColumn(ph, QARTOD.pass)
  for (let row = 0; row < flags.length; row++) {
    if (flags[row] === QARTOD.missing) continue
    if (clipped[row] === 1) flags[row] = QARTOD.fail
    else if (wire !== null && (wire[row]! & WIRE.clipped) !== 0) flags[row] = QARTOD.suspect
  }
  return flags
}
