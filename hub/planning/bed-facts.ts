import type { Assessment } from '../analysis/assessment.ts'
import type { Study } from '../analysis/study.ts'
import type { Bed } from '../model/bed.ts'
import type { JournalEntry } from '../model/journal.ts'
import type { Plan, PlanningSettings } from '../model/plan.ts'
import type { BedSoil, SoilTest } from '../model/soil.ts'

/** Everything the planner and the review may know of one bed at one time. Read by the caller, never by the planner. */
export interface BedFacts {
  readonly bed: Bed
  /** Now, epoch ms. */
  readonly at: number
  /** IANA zone of the garden. */
  readonly zone: string
  readonly soil: BedSoil
  /** Oldest first. */
  readonly tests: readonly SoilTest[]
  /** The bed's own journal, oldest first, nothing later than `at`. */
  readonly journal: readonly JournalEntry[]
  /** The bed's plans, newest first. */
  readonly plans: readonly Plan[]
  /** Null before the bed was first looked at. */
  readonly assessment: Assessment | null
  /** The slow questions; null before they were first gone through. */
  readonly study: Study | null
  /** Mean temperature of the bed's soil by UTC day, ascending; NaN never. Empty without a temperature sensor. */
  readonly soilC: { readonly day: Float64Array; readonly value: Float64Array }
  readonly settings: PlanningSettings
}
