import { bulkDensityOf } from '../../agronomy/soil-rates.ts'
import type { Range } from '../../model/plan.ts'
import type { BedFacts } from '../bed-facts.ts'
import { densityMass, inRoom } from '../../words/amount.ts'
import { said, say } from '../../words/say.ts'

/** Dry soil in the worked depth of a bed. */
export interface SoilMass {
  /** kg/m3 */
  readonly density: Range
  /** kg under one m2 */
  readonly kgM2: Range
  readonly words: string
}

/** By the bed's own density where it was measured, else by its texture, with that doubt. */
export function soilMass({ bed, soil }: BedFacts): SoilMass {
  const own = soil.bulkDensity
  const density: Range =
    own === null ? bulkDensityOf(bed.texture) : { low: own, typical: own, high: own }
  const { depthM } = bed
  return {
    density,
    kgM2: {
      low: density.low * depthM,
      typical: density.typical * depthM,
      high: density.high * depthM,
    },
    words:
      own === null
        ? say`${densityMass(density.typical)} of dry soil ${inRoom()}, usual for ${said(bed.texture)}`
        : say`${densityMass(density.typical)} of dry soil ${inRoom()}, as measured in this bed`,
  }
}
