import { dosingOf } from '../agronomy/dosing.ts'
import type { JournalEntry } from '../model/journal.ts'
import type { Plan, Range } from '../model/plan.ts'
import type { BedFacts } from './bed-facts.ts'
import { openChanges } from './need/measuring-told.ts'
import { suddenSentence } from './need/need-words.ts'
import { checkPlan } from './follow/against-plan.ts'
import { courseOf } from './follow/follow-course.ts'
import { followGrounds, followSentence } from './follow/follow-words.ts'
import { learnedResponse } from './follow/learned-response.ts'
import { noResponseCauses, tooMuchCauses } from './follow/likely-causes.ts'
import { measuredAfter, measuredBefore } from './follow/measured-around.ts'
import { measuredChange, newestLevel } from './follow/measured-change.ts'
import { nextPortion } from './follow/next-portion.ts'
import { isPastAim, stopOf, verdictOf } from './follow/plan-verdict.ts'
import { predictedChange, type PutOn } from './follow/predicted-change.ts'

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
    /** What it does at its fullest by what the bed did so far, signed pH: 90 %. */
    readonly change: Range
    readonly sentence: string
  } | null
  /** How strongly the bed answers, 1: as planned; `low` to `high` hold 90 %. Null while nothing was measured. */
  readonly answers: Range | null
  /** The response says that nothing more should go on; the plan should be closed with this ending. */
  readonly stop: 'reached' | 'stopped' | null
  readonly sentence: string
  /** No response or too much: what may be behind it, likeliest first. */
  readonly causes: readonly string[]
  readonly grounds: readonly string[]
}

/** How a plan goes: what was measured against what was predicted, what comes next, and whether to stop. */
export function followPlan(facts: BedFacts, plan: Plan): Follow {
  const { at, journal } = facts
  const dosing = dosingOf(plan.material)
  if (dosing === null) throw new Error(`a plan of '${plan.material}', which has no dose`)
  const entries = plan.stages.map(({ entryId }) => journal.find(({ id }) => id === entryId) ?? null)
  const portions = plan.stages
    .flatMap((stage, i): PutOn[] => {
      const entry = entries[i]
      return entry === null || entry === undefined
        ? []
        : [{ stage, at: entry.at, amountG: entry.amountG ?? stage.amountG }]
    })
    .toSorted((a, b) => a.at - b.at)
  const first = portions[0]
  const predicted = predictedChange(portions, dosing, at)
  const seen = first === undefined ? null : measuredChange(facts, first.at)
  const measured = seen !== null && 'value' in seen ? seen : null
  const level = facts.study === null ? null : newestLevel(facts.study.days.bed, -Infinity, at)
  const now = level?.value ?? null
  const verdict =
    first === undefined
      ? 'not begun'
      : measured === null
        ? 'cannot tell'
        : verdictOf(plan, dosing, {
            measured,
            predicted,
            since: first.at,
            at,
            now,
          })
  const begun = portions.length > 0
  const check = plan.closedAt === null ? checkPlan(facts, plan, begun) : null
  const stop = check === null ? null : stopOf(facts, { verdict, now, begun, check })
  const answers = learnedResponse(portions, dosing, at, measured)
  const sudden = openChanges(facts).find(({ standing }) => standing === 'open')
  const ahead =
    check === null || stop !== null || verdict === 'no response'
      ? null
      : sudden === undefined
        ? nextPortion(facts, plan, dosing, { portions, answers, now, check })
        : { none: suddenSentence(facts, sudden.event) }
  const next = ahead === null || 'none' in ahead ? null : ahead
  return {
    verdict,
    measured:
      measured === null
        ? null
        : { low: measured.low, typical: measured.value, high: measured.high },
    predicted: first === undefined ? null : predicted,
    stages: plan.stages.map((stage, i) => {
      const entry = entries[i] ?? null
      const until = portions.find((later) => entry !== null && later.at > entry.at)?.at ?? at
      return {
        entry,
        before: entry === null ? null : measuredBefore(facts, entry.at),
        after:
          entry === null
            ? null
            : measuredAfter(facts, entry.at, until, stage.fullFrom - stage.dueAt),
      }
    }),
    course: courseOf(facts, plan, dosing, { portions, next }),
    next,
    answers: measured === null ? null : answers,
    stop,
    sentence: followSentence(facts, plan, {
      verdict,
      measured,
      predicted,
      stop,
      ahead,
      seen,
      isPast: isPastAim(plan, now),
      against: check?.against ?? null,
      portions,
    }),
    causes:
      verdict === 'no response'
        ? noResponseCauses(facts, dosing, first!.at)
        : verdict === 'more than expected'
          ? tooMuchCauses(facts, plan, portions)
          : [],
    grounds: followGrounds(facts, plan, { measured, predicted, answers, portions }),
  }
}
