import type { Texture } from '../../model/bed.ts'
import type { SpotHistory } from '../measure/spot-history.ts'
import { DRY_BELOW, availableShare, fieldCapacity } from './dry-soil.ts'
import { flatLine } from './flat-line.ts'
import { isBeyondElectrode, isSoilPh } from './gross-range.ts'

/** Reasons why a pH does not count; bits, so that one row can have several. */
export const FLAG = { missing: 1, range: 2, temperature: 4, flat: 8, dry: 16 } as const

/** A spot's history with the verdict on each row. */
export interface CheckedHistory extends SpotHistory {
  /** Bits of `FLAG`; 0 where the pH counts. */
  readonly flags: Uint8Array
  /** Share of available water, NaN = unknown. */
  readonly available: Float64Array
}

/**
 * Tests every pH of a spot. Unknown moisture does not gate: a bed whose probes only know pH must still work.
 * `capacity`: moisture at field capacity on this probe's scale; learned from this history when not given.
 */
export function checkHistory(
  history: SpotHistory,
  texture: Texture,
  capacity: number = fieldCapacity(history, texture),
): CheckedHistory {
  const flat = flatLine(history)
  const available = availableShare(history, texture, capacity)
  const flags = new Uint8Array(history.time.length)
  for (let row = 0; row < flags.length; row++) {
    const ph = history.ph[row]!
    let flag = 0
    if (Number.isNaN(ph)) flag |= FLAG.missing
    else if (!isSoilPh(ph) || history.clipped[row] === 1) flag |= FLAG.range
    if (isBeyondElectrode(history.temperature[row]!)) flag |= FLAG.temperature
    if (flat[row] === 1) flag |= FLAG.flat
    if (available[row]! < DRY_BELOW) flag |= FLAG.dry
    flags[row] = flag
  }
  return { ...history, flags, available }
}

/** The first reason in words, or null when the pH counts. */
export function reasonOf(flag: number): string | null {
  if ((flag & FLAG.missing) !== 0) return 'no reading'
  if ((flag & FLAG.range) !== 0) return 'a value no soil can have'
  if ((flag & FLAG.flat) !== 0) return 'the value stands still'
  if ((flag & FLAG.temperature) !== 0) return 'too cold or too hot for the electrode'
  if ((flag & FLAG.dry) !== 0) return 'the soil is too dry to read pH'
  return null
}
