/**
 * Share of the water it could use that a crop still gets (FAO-56 equation 84: Ks): 1 until the readily available
 * water is gone, then falling in a straight line to 0 at the wilting point.
 *
 * @param missing water missing to field capacity as a share of the total available water, Dr / TAW
 * @param depletion share that can be used before the crop feels it, p
 */
export function waterStress(missing: number, depletion: number): number {
  if (Number.isNaN(missing)) return NaN
  return Math.min(1, Math.max(0, (1 - missing) / (1 - depletion)))
}
