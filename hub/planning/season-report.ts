import type { Interval3 } from './interval3.ts'
import type { BedFacts } from './bed-facts.ts'
import type { BedReview } from './review.ts'

/** A bed over a period of the calendar. */
export interface SeasonReport {
  readonly bedId: number
  readonly bed: string
  /** Epoch ms, [from, to). */
  readonly from: number
  readonly to: number
  /** Months of the garden's zone, 'YYYY-MM', that lie in the period, whole or in part. */
  readonly months: readonly {
    readonly month: string
    readonly days: number
    readonly median: number | null
    readonly lowest: number | null
    readonly highest: number | null
    /** Days inside the band, of `days`; null without a band. */
    readonly inBand: number | null
    readonly soilC: number | null
    readonly waterL: number
  }[]
  /** Change from the first to the last month that has enough days, pH. */
  readonly change: Interval3 | null
  readonly inBandShare: Interval3 | null
  readonly samples: readonly { readonly at: number; readonly ph: number; readonly method: string }[]
  readonly events: readonly { readonly at: number; readonly sentence: string }[]
  readonly review: BedReview
  readonly sentence: string
}

export function seasonReport(_facts: BedFacts, _from: number, _to: number): SeasonReport {
  throw new Error('not there yet')
}
