import { cropBySlug } from '../../agronomy/crops.ts'
import type { Bed } from '../../model/bed.ts'

/** FAO-56, chapter 8: 0.5 is commonly used for many crops (from memory). */
const USUAL_DEPLETION = 0.5

/** From where and how far the bed's crops draw water. */
export interface Roots {
  /** Depth of the roots that are watered for, m. */
  readonly depthM: number
  /** Share of the available water that may be missing before the most sensitive crop feels it, p. */
  readonly depletion: number
  /** That crop, by name; null when no crop of the bed has a printed figure. */
  readonly sensitive: string | null
}

/**
 * The roots of a bed: the smallest depletion fraction among its crops, and the deepest roots, no deeper than the
 * bed is worked. Of the two rooting depths of FAO-56 Table 22 the smaller one, which its footnote gives for
 * planning irrigation. Roots may go on into the soil below the bed; whether they can is not known.
 */
export function rootsOf(bed: Pick<Bed, 'crops' | 'depthM'>): Roots {
  let depth = 0
  let depletion = Infinity
  let sensitive: string | null = null
  for (const slug of bed.crops) {
    const crop = cropBySlug(slug)
    const roots = crop?.roots ?? null
    if (crop === undefined || roots === null) continue
    depth = Math.max(depth, roots.depthMinM)
    if (roots.depletion >= depletion) continue
    depletion = roots.depletion
    sensitive = crop.name
  }
  if (sensitive === null) return { depthM: bed.depthM, depletion: USUAL_DEPLETION, sensitive }
  return { depthM: Math.min(depth, bed.depthM), depletion, sensitive }
}
