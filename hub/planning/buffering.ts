import type { Range } from '../model/plan.ts'
import type { BedFacts } from './bed-facts.ts'

export const BUFFERING_KINDS = ['treatments here', 'jar test', 'laboratory', 'texture'] as const

/** How strongly a bed holds its pH: pure calcium carbonate, g/m2, that moves it by one pH over its worked depth. */
export interface Buffering {
  readonly gM2PerPh: Range
  /** What it rests on, what weighs most first. */
  readonly parts: readonly {
    readonly kind: (typeof BUFFERING_KINDS)[number]
    readonly gM2PerPh: Range
    /** Share in the whole, 0 to 1. */
    readonly weight: number
    readonly sentence: string
    readonly sources: readonly string[]
  }[]
  readonly sentence: string
}

/** Null when neither texture nor test nor treatment says anything. `way`: lime and sulfur tables differ. */
export function bufferingOf(_facts: BedFacts, _way: 'raise' | 'lower'): Buffering | null {
  throw new Error('not there yet')
}
