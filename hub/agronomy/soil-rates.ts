import type { Texture } from '../model/bed.ts'
import type { CitedRange } from './dosing.ts'
import { PUBLISHED } from './rate-data/published-rates.ts'
import { WORKING } from './rate-data/working-rates.ts'
import { textureRow } from './textures.ts'

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
  /** The source gives a rate for one pH wherever that lies; from and to then only stand for one pH. */
  readonly perPh: boolean
}
export const PUBLISHED_RATES: readonly PublishedRate[] = PUBLISHED

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
export function soilRate(texture: Texture): SoilRate | null {
  if (texture === 'raised-bed mix') return null
  const { limestone, sulfur } = WORKING[texture]
  const range = ([low, typical, high]: readonly [number, number, number], note: string) => ({
    low,
    typical,
    high,
    source: 'CALC',
    note,
  })
  return {
    limestone: range(limestone, 'judged from the published tables, around pH 5.5 to 6.5'),
    sulfur: range(sulfur, 'judged from the published tables, for soil without free lime'),
  }
}

/** Density of the grains themselves, kg/m3. */
const GRAIN_DENSITY = 2650
/** How far the density of a mineral garden soil lies from the rule, either way. */
const DENSITY_SPREAD = 0.15

/**
 * Dry mass of soil as it lies, kg/m3: grains fill what water cannot (BD_RULE with the saturation of Saxton and Rawls);
 * low and high are judgement. Fill of raised beds: a recalled range with its geometric mean.
 */
export function bulkDensityOf(texture: Texture): CitedRange {
  if (texture === 'raised-bed mix') {
    return {
      low: 400,
      typical: 600,
      high: 900,
      source: 'MEM',
      note: 'fill rich in compost; common practice, no source: better weighed',
    }
  }
  const typical = (1 - textureRow(texture).saturation) * GRAIN_DENSITY
  return {
    low: typical * (1 - DENSITY_SPREAD),
    typical,
    high: typical * (1 + DENSITY_SPREAD),
    source: 'BD_RULE',
    note: '(1 - saturation) x 2.65; the spread about it is judgement',
  }
}
