import type { SoilInput } from '../../../../hub/api/schemas/planning.ts'
import { fieldNumber, notNumber, parseNumber } from '../../number-field.ts'
import type { Units } from '../../format.ts'
import { said, toSay } from '../../say.ts'

/** The soil form as typed. */
export interface SoilDraft {
  /** Dry soil out of one measure of volume, in the gardener's unit. */
  readonly density: string
  readonly planting: 'bare' | 'standing' | ''
  readonly water: 'hard' | 'soft' | ''
}

/** Grams in a litre are kg in a cubic metre; an ounce in a US quart is 28.349523125 g in 0.946352946 L (NIST). */
const DENSITY: Readonly<Record<Units, { unit: string; measure: string; kgM3: number }>> = {
  metric: { unit: 'g', measure: toSay('one litre'), kgM3: 1 },
  us: { unit: 'oz', measure: toSay('one quart'), kgM3: 28.349523125 / 0.946352946 },
}
export const densityUnit = (units: Units): { unit: string; measure: string } => ({
  ...DENSITY[units],
  measure: said(DENSITY[units].measure),
})

export function soilDraft(soil: SoilInput, units: Units): SoilDraft {
  return {
    density:
      soil.bulkDensity === null
        ? ''
        : fieldNumber(Number((soil.bulkDensity / DENSITY[units].kgM3).toPrecision(4))),
    planting: soil.planting ?? '',
    water: soil.hardWater === null ? '' : soil.hardWater ? 'hard' : 'soft',
  }
}

/** The soil in SI units, or what cannot be read; a density that was not touched keeps its stored value. */
export function soilOf(
  draft: SoilDraft,
  before: SoilInput,
  units: Units,
): { readonly soil: SoilInput; readonly errors: { path: string; message: string }[] } {
  const errors: { path: string; message: string }[] = []
  const density = (): number | null => {
    if (draft.density.trim() === '') return null
    if (draft.density === soilDraft(before, units).density) return before.bulkDensity
    const value = parseNumber(draft.density)
    if (value === null) {
      errors.push({ path: 'bulkDensity', message: notNumber(draft.density) })
      return null
    }
    return value * DENSITY[units].kgM3
  }
  return {
    soil: {
      bulkDensity: density(),
      planting: draft.planting === '' ? null : draft.planting,
      hardWater: draft.water === '' ? null : draft.water === 'hard',
    },
    errors,
  }
}
