import { DAY } from '../model/clock.ts'
import type { IndexedNoise } from './random.ts'

/** Something wrong with one probe from `from` until `to`, epoch ms. */
export type Fault =
  /** The EMF input is stuck: every reading repeats one value. */
  | { readonly kind: 'flat line'; readonly from: number; readonly to: number }
  /** The electrode jumps by `changePh` and stays. */
  | { readonly kind: 'step'; readonly from: number; readonly to: number; readonly changePh: number }
  /** The zero point runs away at `phPer30d`; gone at the end, when the electrode was cared for. */
  | {
      readonly kind: 'drift'
      readonly from: number
      readonly to: number
      readonly phPer30d: number
    }
  /** Nothing gets through; the probe goes on measuring and sends the rest afterwards. */
  | {
      readonly kind: 'outage'
      readonly from: number
      readonly to: number
      /** True when the hub itself was away, so that it could not notice. */
      readonly hubAway: boolean
    }
  /** No power: nothing is measured; it starts anew afterwards. */
  | { readonly kind: 'no power'; readonly from: number; readonly to: number }

/** Values of the wire channels; null: tried and failed. */
export interface Measured {
  phmv: number | null
  m1: number | null
  st: number | null
  bat: number | null
}

export const active = (fault: Fault, at: number): boolean => at >= fault.from && at < fault.to

/** Error in pH that the faults of a probe add at a time. */
export function faultPh(faults: readonly Fault[], at: number): number {
  let error = 0
  for (const fault of faults) {
    if (!active(fault, at)) continue
    if (fault.kind === 'step') error += fault.changePh
    if (fault.kind === 'drift') error += (fault.phPer30d * (at - fault.from)) / (30 * DAY)
  }
  return error
}

/** Chance that a reading is spoilt by a spike. */
const SPIKE_CHANCE = 1e-4

/**
 * Now and then spoils one channel with the value such parts are known to give: a rail of the converter,
 * 85 (power-on value) or -127 (no answer) of one-wire thermometers, or nothing. Common practice, no source.
 */
export function spoil(values: Measured, noise: IndexedNoise, index: number): void {
  const luck = noise.uniform(index)
  if (luck >= SPIKE_CHANCE) return
  const kind = Math.floor((luck / SPIKE_CHANCE) * 6)
  if (kind === 0) values.phmv = 2047.9375
  else if (kind === 1) values.phmv = null
  else if (kind === 2) values.m1 = 0
  else if (kind === 3) values.m1 = 4095
  else if (kind === 4) values.st = 85
  else values.st = -127
}
