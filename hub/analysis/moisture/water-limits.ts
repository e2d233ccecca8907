import { textureRow } from '../../agronomy/textures.ts'
import type { Texture } from '../../model/bed.ts'
import type { MoistureScale } from '../measure/spot-history.ts'
import type { WaterState } from './water-state.ts'

/** Wettings that must have drained for a day before field capacity is drawn from them. */
export const ENOUGH_WET_UPS = 3
/**
 * A learned field capacity below this share of the texture's is a long drought, not the soil. Without wettings a
 * few dry days must not pass for the whole truth: the lower ends of FAO-56 Table 19 lie at about 0.7 of the
 * values in use here.
 */
const LEAST_SHARE = { wetUps: 0.5, seen: 0.7 } as const
/** The lowest seen counts as wilting point down to this share of the texture's: drier is air in the soil. */
const LEAST_WILTING = 0.5

/** Field capacity and wilting point of one probe's soil on the probe's own scale, and how they are known. */
export interface WaterLimits {
  readonly capacity: number
  readonly wilting: number
  /** `wet-ups`: from how the bed drained; `seen`: the highest seen; `texture`: from the table of the texture. */
  readonly basis: 'wet-ups' | 'seen' | 'texture'
  /** Drained wettings behind the field capacity. */
  readonly wetUps: number
  /** How far the upper quarter of them reaches, same scale: large = unsure; NaN without wettings. */
  readonly spread: number
}

/**
 * Field capacity: 95th percentile of the moisture a day after the bed was wetted; until that is known the 95th
 * percentile of what was seen; before that the texture's (as a share of saturation for a probe that knows only
 * its own dry and wet points). Fill of raised beds holds what no table says, so the bed itself comes first.
 * Wilting point: the texture's share of field capacity, or the lowest that was seen when that is lower.
 */
export function waterLimits(
  state: WaterState,
  scale: MoistureScale,
  texture: Texture,
): WaterLimits {
  const row = textureRow(texture)
  const tabled = scale === 'volume' ? row.fieldCapacity : row.fieldCapacity / row.saturation
  const known = state.scale === scale
  const share = row.wiltingPoint / row.fieldCapacity
  const wetUps = known ? state.drained.length : 0
  let capacity = tabled
  let basis: WaterLimits['basis'] = 'texture'
  if (known && wetUps >= ENOUGH_WET_UPS) {
    capacity = Math.max(LEAST_SHARE.wetUps * tabled, state.capacity)
    basis = 'wet-ups'
  } else if (known && Number.isFinite(state.seenHigh)) {
    capacity = Math.max(LEAST_SHARE.seen * tabled, state.seenHigh)
    basis = 'seen'
  }
  const tabledWilting = share * capacity
  const wilting =
    known && state.seenLow < tabledWilting
      ? Math.max(LEAST_WILTING * tabledWilting, state.seenLow)
      : tabledWilting
  return { capacity, wilting, basis, wetUps, spread: known ? state.capacitySpread : NaN }
}
