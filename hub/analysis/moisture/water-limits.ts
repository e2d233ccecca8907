import { textureRow } from '../../agronomy/textures.ts'
import type { Texture } from '../../model/bed.ts'
import type { MoistureScale } from '../measure/spot-history.ts'
import type { WaterState } from './water-state.ts'

/** Soakings that must have drained before field capacity is drawn from them. */
export const ENOUGH_SOAKINGS = 3
/**
 * As long as the bed was not soaked often enough, a few dry weeks must not pass for the whole truth: the lower ends of
 * FAO-56 Table 19 lie at about 0.7 of the values in use here.
 */
const LEAST_SHARE = 0.7
/** The lowest seen counts as wilting point down to this share of the texture's: drier is air in the soil. */
const LEAST_WILTING = 0.5

/** Field capacity and wilting point of one probe's soil on the probe's own scale, and how they are known. */
export interface WaterLimits {
  readonly capacity: number
  readonly wilting: number
  /** `wet-ups`: from how the bed drained; `seen`: the highest seen; `texture`: from the table of the texture. */
  readonly basis: 'wet-ups' | 'seen' | 'texture'
  /** Soakings behind the field capacity. */
  readonly wetUps: number
  /** Distance between the quartiles of what they left, same scale: large = unsure; NaN without any. */
  readonly spread: number
}

/**
 * Field capacity: third quartile of what the bed held after it had been soaked and had drained. Until it was soaked
 * often enough the highest it held (95th percentile of all hours, or of all wettings a day after); before that the
 * texture's (as a share of saturation for a probe that knows only its own dry and wet points). Fill of raised beds
 * holds what no table says, so the bed itself comes first.
 *
 * The 95th percentile a day after any wetting, the simplest rule, was measured on 80 invented beds of known field
 * capacity: 6 % too high after a wet winter (the soil still drains) and in one bed of ten 15 % too low after a
 * summer of light waterings (which never fill the soil). This rule stayed within 5 % in nine of ten that were soaked.
 *
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
  const wetUps = known ? state.soaked.length : 0
  const seen = known ? Math.max(state.seenHigh, orNone(state.drainedHigh)) : NaN
  let capacity = tabled
  let basis: WaterLimits['basis'] = 'texture'
  if (wetUps >= ENOUGH_SOAKINGS) {
    capacity = state.capacity
    basis = 'wet-ups'
  } else if (Number.isFinite(seen)) {
    capacity = Math.max(LEAST_SHARE * tabled, seen)
    basis = 'seen'
  }
  const tabledWilting = share * capacity
  const wilting =
    known && state.seenLow < tabledWilting
      ? Math.max(LEAST_WILTING * tabledWilting, state.seenLow)
      : tabledWilting
  return { capacity, wilting, basis, wetUps, spread: known ? state.capacitySpread : NaN }
}

function orNone(value: number): number {
  return Number.isNaN(value) ? -Infinity : value
}
