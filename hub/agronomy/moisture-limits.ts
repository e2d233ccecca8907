export interface RootZone {
  /** m3/m3 */
  readonly fieldCapacity: number
  /** m3/m3 */
  readonly wiltingPoint: number
  /** Depth of the roots that draw water, m; in a bed no more than its depth allows. */
  readonly rootDepthM: number
}

/** Total available water in the root zone, mm. FAO-56 equation 82: 1000 (FC - WP) Zr. */
export function totalAvailableWater(zone: RootZone): number {
  return 1000 * (zone.fieldCapacity - zone.wiltingPoint) * zone.rootDepthM
}

/**
 * Water that can be used before the plants feel it, mm. FAO-56 equation 83: p TAW, with p as printed in
 * Table 22 for 5 mm of crop water use a day.
 */
export function readilyAvailableWater(zone: RootZone, depletion: number): number {
  return depletion * totalAvailableWater(zone)
}
