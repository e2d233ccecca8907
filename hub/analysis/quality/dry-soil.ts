import { textureRow } from '../../agronomy/textures.ts'
import type { Texture } from '../../model/bed.ts'
import { HOUR } from '../../model/clock.ts'
import { sortedFinite } from '../stats/median.ts'
import type { SpotHistory } from '../measure/spot-history.ts'

/**
 * Below this share of the available water a pH electrode in the soil is not believed. In-soil readings fall
 * by up to 1.5 pH between field capacity and dry soil (Vogel 2024); that they start to fall at about 0.4 and
 * that 0.5 is a fair gate is judgement, kept on the careful side.
 */
export const DRY_BELOW = 0.5
/**
 * From here on there is no doubt about the contact. The careful rule of the trade (recalled, no source) leaves out
 * everything below 0.7. A bed watered as FAO-56 advises, when 0.3 to 0.5 of its available water is gone, spends much
 * of the summer between 0.5 and 0.7: leaving that out would leave a season without a trend. So it counts there, and
 * is marked as suspect.
 */
export const MOIST_FROM = 0.7

/** Share of the highest values that is rain or watering just now, not field capacity. */
const FIELD_CAPACITY_QUANTILE = 0.95
/** Rows that must be there before a bed's own field capacity is learned: two days of hours. */
const LEARN_ROWS = 48
/** A learned field capacity below this share of the texture's is a long drought, not the soil. */
const LEAST_SHARE = 0.5
/** A moisture this old still tells of the soil around the electrode. */
const NEAR_MS = 6 * HOUR

/**
 * Moisture at field capacity on the scale of the probe, learned from the bed: the 95th percentile of what was
 * seen. Until there is enough, the texture's: as it is for volumes, as a share of saturation for a probe that
 * knows only its own dry and wet points.
 */
export function fieldCapacity(history: SpotHistory, texture: Texture): number {
  const row = textureRow(texture)
  const tabled =
    history.moistureScale === 'volume' ? row.fieldCapacity : row.fieldCapacity / row.saturation
  const seen = sortedFinite(history.moisture)
  if (seen.length < LEARN_ROWS || history.step === 'raw') return tabled
  return Math.max(LEAST_SHARE * tabled, seen[Math.floor(FIELD_CAPACITY_QUANTILE * seen.length)]!)
}

/**
 * Share of the water between wilting point and field capacity that is left, for each row; NaN = unknown.
 * The wilting point is the texture's share of field capacity.
 */
export function availableShare(
  history: SpotHistory,
  texture: Texture,
  capacity: number,
): Float64Array {
  const row = textureRow(texture)
  const wilting = row.wiltingPoint / row.fieldCapacity
  const out = new Float64Array(history.time.length).fill(NaN)
  if (history.moistureScale === 'unknown') return out
  let last = -1
  for (let i = 0; i < out.length; i++) {
    if (Number.isFinite(history.moisture[i])) last = i
    if (last < 0 || history.time[i]! - history.time[last]! > NEAR_MS) continue
    out[i] = (history.moisture[last]! / capacity - wilting) / (1 - wilting)
  }
  return out
}
