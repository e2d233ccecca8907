/** A value with its 95 % interval; an end that is open is null, and so is a value not reached yet. */
export interface Span {
  readonly value: number | null
  readonly low: number | null
  readonly high: number | null
}

/** One treatment as the journal has it. */
export interface Dose {
  readonly id: number
  /** Epoch ms. */
  readonly at: number
  readonly material: string
}

export type EffectQuestion = 'above where it was' | 'advantage over untreated'

/** How long half of an effect stays, days from its highest point. */
export type HalfLife =
  /** `early`: less than one half-life has been watched since the highest point. */
  | { readonly kind: 'known'; readonly days: Span; readonly early: boolean }
  | { readonly kind: 'at least'; readonly days: number }
  | { readonly kind: 'unknown'; readonly reason: string }

/** What one dose did, as an answer to one question. */
export interface DoseEffect {
  /** The journal entries: several where a material went on in portions. */
  readonly ids: readonly number[]
  readonly at: number
  readonly material: string
  readonly question: EffectQuestion
  readonly verdict: 'effect' | 'no measurable effect' | 'insufficient'
  /** Days from the dose until the pH begins to move. */
  readonly onsetDays: Span | null
  /** Days from the dose to the highest effect; a null value: still moving. */
  readonly peakDays: Span | null
  /** Highest effect so far, signed, pH. */
  readonly peak: Span | null
  /** What is there now, signed, pH. */
  readonly present: Span | null
  readonly halfLife: HalfLife
  /** No measurable effect: none larger than this, pH. */
  readonly notLargerThan: number | null
  /** When half is gone, epoch ms; may lie ahead. */
  readonly halfBackAt: number | null
  /** Fitted course: pH above the level before, week by week from a little before the dose. */
  readonly curve: {
    readonly time: Float64Array
    readonly value: Float64Array
    readonly low: Float64Array
    readonly high: Float64Array
  } | null
  /** The weekly values it was fitted to, on the same scale. */
  readonly points: { readonly time: Float64Array; readonly value: Float64Array } | null
  readonly sentence: string
  readonly grounds: readonly string[]
}
