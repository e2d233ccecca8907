import { ALUMINUM_SULFATE, AMMONIUM_SULFATE, IRON_SULFATE, SULFUR } from './dose-data/lowering.ts'
import {
  DOLOMITIC_LIMESTONE,
  GROUND_LIMESTONE,
  HYDRATED_LIME,
  WOOD_ASH,
} from './dose-data/raising.ts'

/** A figure with the publication it comes from; 'MEM' recalled, 'CALC' computed or judged from cited figures. */
export interface Cited {
  readonly source: string
  readonly note: string
}
export interface CitedRange extends Cited {
  readonly low: number
  readonly typical: number
  readonly high: number
}

/** The most of a product that may go on, g/m2. */
export interface Cap extends Cited {
  readonly gM2: number
  readonly per: 'application' | 'year'
  /** `standing`: where plants stay; `cool`: while the soil is cool or its temperature unknown; null: always. */
  readonly when: 'standing' | 'cool' | null
}

/** How a material is dosed, what it does by when, and what can hurt. */
export interface Dosing {
  /** Slug of the table of amendments. */
  readonly slug: string
  /** g of pure calcium carbonate that 1 g of the product neutralises, or that its acid uses up. */
  readonly acts: CitedRange
  /** What the label states, and the strength at 100 % of it. */
  readonly label: { readonly words: string; readonly perWhole: number }
  readonly caps: readonly Cap[]
  /** No second one of the same direction before so many days. */
  readonly wait: Cited & { readonly days: number }
  /** Days until the pH begins to move. */
  readonly onset: Cited & { readonly low: number; readonly high: number }
  /** Days from putting it on until the pH has moved as far as it will. */
  readonly peak: CitedRange
  /** Time constant of the rise, days. */
  readonly rise: CitedRange
  /** How long half of the effect stays, days. */
  readonly halfLife: CitedRange
  /** Soil colder than this, degrees Celsius: it waits; null where cold does not matter. */
  readonly leastSoilC: (Cited & { readonly value: number }) | null
  /** Days after which to measure again. */
  readonly retests: Cited & { readonly days: readonly number[] }
  readonly cautions: readonly { readonly text: string; readonly source: string }[]
}

export const DOSINGS: readonly Dosing[] = [
  GROUND_LIMESTONE,
  DOLOMITIC_LIMESTONE,
  HYDRATED_LIME,
  WOOD_ASH,
  SULFUR,
  IRON_SULFATE,
  ALUMINUM_SULFATE,
  AMMONIUM_SULFATE,
]

const bySlug = new Map(DOSINGS.map((dosing) => [dosing.slug, dosing]))

/**
 * Null for what is no means to move pH, and for peat: how far peat lowers pH is published by its share of the volume
 * of a planting mix, never by its weight, so no dose of it can be worked out.
 */
export function dosingOf(slug: string): Dosing | null {
  return bySlug.get(slug) ?? null
}
