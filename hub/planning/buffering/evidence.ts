import type { Range } from '../../model/plan.ts'
import type { BedFacts } from '../bed-facts.ts'
import type { BUFFERING_KINDS } from '../buffering.ts'

export type Way = 'raise' | 'lower'

/** What one source says of how a bed holds its pH. */
export interface Evidence {
  readonly kind: (typeof BUFFERING_KINDS)[number]
  /** Pure calcium carbonate, g/m2 for one pH over the worked depth: 90 %. */
  readonly gM2PerPh: Range
  /** What it counts with beside other sources: wider where the figure is of other soils or of the other way. */
  readonly counts: Range
  readonly sentence: string
  readonly sources: readonly string[]
}

/** A source of evidence: one file each. */
export type EvidenceOf = (facts: BedFacts, way: Way) => readonly Evidence[]

/**
 * Doubt that what was seen on the way up holds on the way down, standard deviation of the logarithm. Judgement: the
 * working rates for lime and sulfur of one texture, both as carbonate, differ by up to 1.6 (computed).
 */
export const OTHER_WAY_SD = 0.3
