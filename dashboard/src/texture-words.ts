import type { BedView } from '../../hub/api/schemas/bed.ts'
import { said, toSay } from './say.ts'

/** Soil textures by the names of the twelve classes of the USDA soil survey, and the mix of raised beds. */
const TEXTURE_WORDS: Readonly<Record<BedView['texture'], string>> = {
  sand: toSay('sand'),
  'loamy sand': toSay('loamy sand'),
  'sandy loam': toSay('sandy loam'),
  loam: toSay('loam'),
  'silt loam': toSay('silt loam'),
  silt: toSay('silt'),
  'sandy clay loam': toSay('sandy clay loam'),
  'clay loam': toSay('clay loam'),
  'silty clay loam': toSay('silty clay loam'),
  'sandy clay': toSay('sandy clay'),
  'silty clay': toSay('silty clay'),
  clay: toSay('clay'),
  'raised-bed mix': toSay('raised-bed mix'),
}

/** A texture in words; one this page does not know stands as it came. */
export const textureWords = (texture: string): string =>
  said(Object.entries(TEXTURE_WORDS).find(([name]) => name === texture)?.[1] ?? texture)
