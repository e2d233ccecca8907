import type { Manner } from './manner.ts'

/** Soil texture classes of the USDA triangle, plus the loose mix many raised beds are filled with. */
export const TEXTURES = [
  'sand',
  'loamy sand',
  'sandy loam',
  'loam',
  'silt loam',
  'silt',
  'sandy clay loam',
  'clay loam',
  'silty clay loam',
  'sandy clay',
  'silty clay',
  'clay',
  'raised-bed mix',
] as const
export type Texture = (typeof TEXTURES)[number]

/** pH from `low` to `high`, both inside. */
export interface PhBand {
  readonly low: number
  readonly high: number
}

/** With the language and the units of its sentences, pages and messages. */
export interface Garden extends Manner {
  readonly name: string
  /** IANA time zone: the garden's day and calendar. */
  readonly zone: string
}

export interface Bed {
  readonly id: number
  readonly name: string
  readonly areaM2: number
  /** Depth to which the soil is worked, m. */
  readonly depthM: number
  readonly texture: Texture
  /** Slugs of the crop table. */
  readonly crops: readonly string[]
  /** The gardener's own band; it wins over the crops'. */
  readonly ownBand: PhBand | null
  /** Order on the garden page. */
  readonly rank: number
  readonly createdAt: number
  /** Epoch ms; null while in use. Its history is kept. */
  readonly retiredAt: number | null
}

/** A place in a bed where a probe can sit. */
export interface Spot {
  readonly id: number
  readonly bedId: number
  readonly name: string
}
