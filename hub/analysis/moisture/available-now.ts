import type { Texture } from '../../model/bed.ts'
import type { MoistureScale } from '../measure/spot-history.ts'
import { waterLimits } from './water-limits.ts'
import type { WaterState } from './water-state.ts'

/**
 * Share of the water between wilting point and field capacity that is left (relative extractable water):
 * 1 at field capacity, 0 at the wilting point, beyond both where the soil is. NaN when the moisture or its
 * scale is not known.
 */
export function availableNow(
  state: WaterState,
  moisture: number,
  scale: MoistureScale,
  texture: Texture,
): number {
  if (scale === 'unknown') return NaN
  const { capacity, wilting } = waterLimits(state, scale, texture)
  return (moisture - wilting) / (capacity - wilting)
}
