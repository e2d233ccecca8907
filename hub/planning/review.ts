import type { EffectQuestion } from '../analysis/amendment/dose-effect.ts'
import type { DoseEffect } from '../analysis/amendment/dose-effect.ts'
import type { BedFacts } from './bed-facts.ts'

/** One treatment as the review tells it. */
export interface ReviewedTreatment {
  /** Journal entries: several where it went on in portions. */
  readonly entryIds: readonly number[]
  readonly at: number
  readonly material: string
  /** All portions together, g; null when it was not written down. */
  readonly amountG: number | null
  readonly question: EffectQuestion
  readonly effect: DoseEffect | null
  /** pH times months gained so far, and until half is gone as far as that is known; with 95 % intervals. */
  readonly phMonths: { readonly value: number; readonly low: number; readonly high: number } | null
  /** Money for one pH over one month; null without price, amount or effect. */
  readonly cost: {
    readonly value: number
    readonly low: number
    readonly high: number | null
    readonly currency: string
  } | null
  readonly worked: 'yes' | 'no' | 'not known'
  readonly sentence: string
}

/** A bed's treatments looked back on. */
export interface BedReview {
  readonly bedId: number
  readonly bed: string
  readonly treatments: readonly ReviewedTreatment[]
  /** When the bed is expected to need something again, epoch ms; ends are null where they cannot be told. */
  readonly nextDue: {
    readonly typical: number | null
    readonly earliest: number | null
    readonly latest: number | null
  } | null
  readonly nextSentence: string
  readonly sentence: string
}

export function reviewBed(_facts: BedFacts): BedReview {
  throw new Error('not there yet')
}
