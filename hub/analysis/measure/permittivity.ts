import type { Texture } from '../../model/bed.ts'

/** Permittivities for which the equation was made; below there is air, above next to nothing but water. */
const VALID = { low: 3, high: 40 } as const

/**
 * Water by volume (m3/m3) of a mineral soil from its relative permittivity: the polynomial of Topp, Davis and Annan
 * 1980. NaN outside 3 to 40, for which it was made.
 */
export function waterOfPermittivity(permittivity: number): number {
  if (!(permittivity >= VALID.low && permittivity <= VALID.high)) return NaN
  const e = permittivity
  return -0.053 + 0.0292 * e - 5.5e-4 * e ** 2 + 4.3e-6 * e ** 3
}

/** Whether the equation may be used: never in a mix of compost and peat, nor where the soil is not known. */
export function isMineral(texture: Texture | undefined): boolean {
  return texture !== undefined && texture !== 'raised-bed mix'
}
