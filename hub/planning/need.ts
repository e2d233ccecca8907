import type { PhBand } from '../model/bed.ts'
import type { SampleMethod } from '../model/journal.ts'
import type { BedFacts } from './bed-facts.ts'
import type { Told } from './told.ts'

export const NEEDS = ['raise', 'lower', 'none', 'cannot tell', 'no band'] as const

/** Whether a bed needs its pH moved, and what has to be known before anything is put on. */
export interface Need {
  readonly verdict: (typeof NEEDS)[number]
  /** Median of the last valid days with its 95 % interval, pH, and how many days; null without any. */
  readonly ph: {
    readonly value: number
    readonly low: number
    readonly high: number
    readonly days: number
  } | null
  readonly band: PhBand | null
  /** Where to go, pH; null without a band. */
  readonly target: number | null
  /** Signed way to the target, pH; 0 when nothing is needed. */
  readonly change: number
  /** The newest sample by hand or laboratory that is young enough to confirm the probes; null without one. */
  readonly confirmation: {
    readonly entryId: number
    readonly at: number
    readonly ph: number
    readonly method: SampleMethod
    /** Sample minus bed value of those days after what is usual for the method, pH; null when not comparable. */
    readonly apart: number | null
  } | null
  /** What is missing before a dose, and what else speaks against one; a note of the usual order last. */
  readonly told: readonly Told[]
  readonly sentence: string
  readonly grounds: readonly string[]
}

/** @param target the gardener's own aim inside the band, pH; null: just inside the near edge */
export function needOf(_facts: BedFacts, _target: number | null): Need {
  throw new Error('not there yet')
}
