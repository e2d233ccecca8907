import type { SpotHistory } from '../measure/spot-history.ts'
import { QARTOD, flagColumn } from './qartod.ts'

/** Bits that a probe sends with a reading (wire format). */
export const WIRE = { notSettled: 1, clipped: 2, supplyLow: 4, restarted: 8 } as const

/** Suspect where the probe itself doubts the reading: not settled yet, or just started again by its watchdog. */
export function probeDoubts({ ph }: Pick<SpotHistory, 'ph'>, wire: Uint8Array | null): Uint8Array {
  if (wire === null) return flagColumn(ph, QARTOD.notEvaluated)
  const flags = flagColumn(ph, QARTOD.pass)
  for (let row = 0; row < flags.length; row++) {
    const doubted = (wire[row]! & (WIRE.notSettled | WIRE.restarted)) !== 0
    if (flags[row] !== QARTOD.missing && doubted) flags[row] = QARTOD.suspect
  }
  return flags
}
