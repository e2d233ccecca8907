import type { JournalEntry } from '../model/journal.ts'
import type { Plan, Range } from '../model/plan.ts'
import type { BedFacts } from './bed-facts.ts'

export const FOLLOW_VERDICTS = [
  'not begun',
  'too early',
  'as expected',
  'more than expected',
  'less than expected',
  'no response',
  'cannot tell',
] as const

/** What was measured about a treatment: the bed's own days, and samples. */
export interface Measured {
  /** Median of the bed's days with its 95 % interval, pH; null without enough of them. */
  readonly ph: { readonly value: number; readonly low: number; readonly high: number } | null
  readonly from: number
  readonly to: number
  readonly samples: readonly JournalEntry[]
}

/** How a plan goes, against what was predicted. */
export interface Follow {
  readonly verdict: (typeof FOLLOW_VERDICTS)[number]
  /** Change since the first stage as measured, and as predicted for today, pH. */
  readonly measured: Range | null
  readonly predicted: Range | null
  /** Per stage, in order: what was put on (null: ahead) and what was measured before and after. */
  readonly stages: readonly {
    readonly entry: JournalEntry | null
    readonly before: Measured | null
    readonly after: Measured | null
  }[]
  /** Predicted pH, day by day from the first stage on until the end of the plan; null before the first. */
  readonly course: {
    readonly time: Float64Array
    readonly low: Float64Array
    readonly typical: Float64Array
    readonly high: Float64Array
  } | null
  /** What comes next: a stage by its number from 0 with the amount as it stands now, g, or nothing. */
  readonly next: {
    readonly stage: number
    readonly dueAt: number
    readonly amountG: number
    readonly sentence: string
  } | null
  /** The response says that nothing more should go on; the plan should be closed with this ending. */
  readonly stop: 'reached' | 'stopped' | null
  readonly sentence: string
  /** No response or too much: what may be behind it, likeliest first. */
  readonly causes: readonly string[]
  readonly grounds: readonly string[]
}

export function followPlan(_facts: BedFacts, _plan: Plan): Follow {
  throw new Error('not there yet')
}
