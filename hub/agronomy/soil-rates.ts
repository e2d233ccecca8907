import type { Texture } from '../model/bed.ts'
import type { CitedRange } from './dosing.ts'

/** One row of a published table: so much of a pure material moves the pH of a soil by so much. */
export interface PublishedRate {
  readonly material: 'limestone' | 'sulfur'
  readonly texture: Texture
  /** As the source names the soil. */
  readonly soil: string
  readonly fromPh: number
  readonly toPh: number
  /** Spread over the surface and worked in to `depthM`, g/m2. */
  readonly gM2: number
  /** Null where the source does not say. */
  readonly depthM: number | null
  /** The figure as printed, with its unit. */
  readonly printed: string
  readonly source: string
}
export const PUBLISHED_RATES: readonly PublishedRate[] = []

/** Depth all working rates are for, m. */
export const RATE_DEPTH_M = 0.15
/** Dry mass the published rates silently take a soil to have, kg/m3. */
export const RATE_DENSITY = 1350

/** Working rates of a texture, g/m2 for one pH over 15 cm: pure calcium carbonate up, pure sulfur down. */
export interface SoilRate {
  readonly limestone: CitedRange
  readonly sulfur: CitedRange
}
/** Null where no published table covers the texture: the loose fill of raised beds. */
export function soilRate(_texture: Texture): SoilRate | null {
  throw new Error('not there yet')
}

/** Dry mass of soil as it lies, kg/m3. */
export function bulkDensityOf(_texture: Texture): CitedRange {
  throw new Error('not there yet')
}
