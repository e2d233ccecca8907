import type { BedFacts } from './bed-facts.ts'

/** Something with a day, for the calendar. */
export interface PlannedDay {
  /** Stable: the same event of the same plan keeps it. */
  readonly key: string
  /** Day in the garden's zone, 'YYYY-MM-DD'. */
  readonly day: string
  readonly bedId: number
  readonly bed: string
  readonly kind: 'treat' | 'measure again' | 'next treatment about'
  readonly summary: string
  readonly text: string
}

/** Everything that lies ahead for these beds, and what was due and was not done; ascending. */
export function plannedDays(_beds: readonly BedFacts[]): readonly PlannedDay[] {
  throw new Error('not there yet')
}
