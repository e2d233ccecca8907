import type { Texture } from '../../model/bed.ts'

type Three = readonly [low: number, typical: number, high: number]

/**
 * Judged from the published rows of the texture and its neighbours: pure calcium carbonate around pH 5.5 to 6.5, and
 * pure sulfur without free lime, g/m2 for one pH over 15 cm. Where publications part, the lower ones decide the typical
 * figure: too little can be followed by more, too much takes years to undo.
 */
export const WORKING: Readonly<
  Record<Exclude<Texture, 'raised-bed mix'>, { readonly limestone: Three; readonly sulfur: Three }>
> = {
  sand: { limestone: [195, 220, 450], sulfur: [34, 45, 88] },
  'loamy sand': { limestone: [220, 260, 450], sulfur: [34, 50, 88] },
  'sandy loam': { limestone: [250, 293, 525], sulfur: [40, 65, 137] },
  loam: { limestone: [293, 391, 525], sulfur: [54, 100, 157] },
  'silt loam': { limestone: [293, 391, 525], sulfur: [65, 98, 157] },
  silt: { limestone: [293, 391, 525], sulfur: [65, 98, 157] },
  'sandy clay loam': { limestone: [293, 440, 525], sulfur: [54, 100, 157] },
  'clay loam': { limestone: [391, 513, 600], sulfur: [78, 125, 200] },
  'silty clay loam': { limestone: [391, 513, 600], sulfur: [78, 125, 200] },
  'sandy clay': { limestone: [391, 488, 600], sulfur: [78, 130, 200] },
  'silty clay': { limestone: [440, 540, 800], sulfur: [83, 150, 270] },
  clay: { limestone: [440, 540, 800], sulfur: [83, 150, 270] },
}
