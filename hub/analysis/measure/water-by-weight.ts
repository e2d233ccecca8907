import { fixed } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** A soil weighed wet and dry, masses in g; the tin is weighed with it each time. */
export interface Weighed {
  readonly tinG: number
  /** Tin with the soil as it came. */
  readonly wetG: number
  /** Tin with the soil dried at 105 degrees Celsius until its weight no longer falls. */
  readonly dryG: number
  /** Volume the soil filled in the bed, cm3; null: by the bulk density. */
  readonly volumeCm3: number | null
  /** Dry mass of the soil as it lies, kg/m3; used without a volume. */
  readonly bulkDensity: number | null
}

/** What it comes to; densities in kg/m3. */
export interface WeighedWater {
  /** Water by mass of dry soil, g/g. */
  readonly byMass: number
  readonly bulkDensity: number
  /** Water by volume, m3/m3. */
  readonly byVolume: number
}

const WATER_KG_M3 = 1000
/** Nothing that grows plants is lighter or heavier when dry, kg/m3; judgement. */
export const BULK_DENSITY = { low: 100, high: 2000 } as const
/** Soil holds no more water than its pores have room for, m3/m3; loose peat reaches about 0.9 (recalled). */
export const MOST_WATER = 0.95

/**
 * Water by volume from weighing: mass of water over mass of dry soil, times bulk density over that of water.
 * The words say what is wrong when the figures cannot be.
 */
export function waterByWeight({
  tinG,
  wetG,
  dryG,
  volumeCm3,
  bulkDensity,
}: Weighed): WeighedWater | { readonly path: keyof Weighed; readonly message: string } {
  if (!(dryG > tinG)) {
    return { path: 'dryG', message: say`expected more than the tin alone (${tinG} g), got ${dryG}` }
  }
  if (!(wetG >= dryG)) {
    return {
      path: 'wetG',
      message: say`expected at least the dry weight (${dryG} g), got ${wetG}: water only goes away in drying`,
    }
  }
  const soilG = dryG - tinG
  const byMass = (wetG - dryG) / soilG
  // g/cm3 is 1000 kg/m3
  const density = volumeCm3 === null ? bulkDensity : (1000 * soilG) / volumeCm3
  const path = volumeCm3 === null ? 'bulkDensity' : 'volumeCm3'
  if (density === null)
    return { path, message: say`give the volume the soil filled, or its density` }
  if (!(density >= BULK_DENSITY.low && density <= BULK_DENSITY.high)) {
    return {
      path,
      message: say`expected a dry soil of ${BULK_DENSITY.low} to ${BULK_DENSITY.high} kg/m3, this makes ${fixed(density, 0)}`,
    }
  }
  const byVolume = (byMass * density) / WATER_KG_M3
  if (byVolume > MOST_WATER) {
    return {
      path: 'wetG',
      message: say`expected at most ${100 * MOST_WATER} % of water by volume, this makes ${fixed(100 * byVolume, 0)} %`,
    }
  }
  return { byMass, bulkDensity: density, byVolume }
}
