import { amendmentBySlug } from './amendment-by-slug.ts'
import { dosingOf, type Dosing } from '../agronomy/dosing.ts'
import { NO_RESPONSE_ONSETS, OVERSHOOT_RATIO } from '../agronomy/planning-limits.ts'
import { bandFor } from '../analysis/band.ts'
import { counted } from '../analysis/format.ts'
import { DAY } from '../model/clock.ts'
import type { JournalEntry } from '../model/journal.ts'
import type { Plan, Range } from '../model/plan.ts'
import { changeText, sizeText } from './amount-words.ts'
import type { BedFacts } from './bed-facts.ts'
import { dayText } from './calendar.ts'
import { levelBetween } from './follow/level-between.ts'
import { noResponseCauses, tooMuchCauses } from './follow/likely-causes.ts'
import { type MeasuredChange, measuredChange, newestLevel } from './follow/measured-change.ts'
import { learnedResponse } from './follow/learned-response.ts'
import { type NextPortion, nextPortion } from './follow/next-portion.ts'
import { NO_CHANGE, predictedChange, type PutOn } from './follow/predicted-change.ts'

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

/** Days around a portion in which its samples and levels are looked for. */
const BEFORE_DAYS = 14
const SAMPLE_DAYS = 30
const LEAST_DAYS = 5
/** Too little is expected yet to be told from noise, pH. */
const HARDLY_ANYTHING = 0.1
/** Beyond its aim by more than this a bed has been moved too far, pH; the same as counts as near enough to a band. */
const PAST_PH = 0.2
const LONGEST_COURSE_MS = 3 * 365 * DAY
const WEEK_MS = 7 * DAY

/** How a plan goes: what was measured against what was predicted, what comes next, and whether to stop. */
export function followPlan(facts: BedFacts, plan: Plan): Follow {
  const { bed, at, journal } = facts
  const dosing = dosingOf(plan.material)
  if (dosing === null) throw new Error(`a plan of '${plan.material}', which has no dose`)
  const entries = plan.stages.map(({ entryId }) => journal.find(({ id }) => id === entryId) ?? null)
  const portions = plan.stages.flatMap((stage, i): PutOn[] => {
    const entry = entries[i]
    return entry === null || entry === undefined
      ? []
      : [{ stage, at: entry.at, amountG: entry.amountG ?? stage.amountG }]
  })
  const first = portions[0]
  const predicted = predictedChange(portions, dosing, at)
  const seen = first === undefined ? null : measuredChange(facts, first.at)
  const measured = seen !== null && 'value' in seen ? seen : null
  const level = facts.study === null ? null : newestLevel(facts.study.days.bed, -Infinity, at)
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
            now: level?.value ?? null,
          })
  const stop = stopOf(facts, plan, verdict, level?.value ?? null, portions.length > 0)
  const answers = learnedResponse(portions, dosing, at, measured)
  const ahead =
    plan.closedAt !== null || stop !== null || verdict === 'no response'
      ? null
      : nextPortion(facts, plan, dosing, { portions, answers, now: level?.value ?? null })
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
      const until = entries.slice(i + 1).find((later) => later !== null)?.at ?? at
      return {
        entry,
        before: entry === null ? null : measuredIn(facts, entry.at - BEFORE_DAYS * DAY, entry.at),
        after:
          entry === null
            ? null
            : measuredAfter(facts, entry.at, until, stage.fullFrom - stage.dueAt),
      }
    }),
    course: courseOf(facts, plan, dosing, portions),
    next,
    answers: measured === null ? null : answers,
    stop,
    sentence: sentenceOf(facts, plan, { verdict, measured, predicted, stop, ahead, seen }),
    causes:
      verdict === 'no response'
        ? noResponseCauses(facts, dosing, first!.at)
        : verdict === 'more than expected'
          ? tooMuchCauses(facts, plan, portions)
          : [],
    grounds: [
      plan.basis,
      ...(measured === null ? [] : [measured.against]),
      ...(portions.length === 0
        ? []
        : [
            `${counted(portions.length, 'portion')} of ${plan.stages.length} put on ${bed.name}, the first on ${dayText(portions[0]!.at, facts.zone)}.`,
          ]),
    ],
  }
}

function verdictOf(
  plan: Plan,
  dosing: Dosing,
  state: {
    readonly measured: MeasuredChange
    readonly predicted: Range
    readonly since: number
    readonly at: number
    readonly now: number | null
  },
): Follow['verdict'] {
  const { measured, predicted, since, at, now } = state
  const toward = Math.sign(plan.targetPh - plan.fromPh)
  // By size: towards where the plan wants to go is positive.
  const [least, most] = toward > 0 ? [measured.low, measured.high] : [-measured.high, -measured.low]
  const expected = toward * predicted.typical
  const past = now === null ? 0 : toward * (now - plan.targetPh)
  if (
    least > OVERSHOOT_RATIO.value * Math.max(expected, HARDLY_ANYTHING) ||
    (past > PAST_PH && least > 0)
  ) {
    return 'more than expected'
  }
  const shown = (at - since) / DAY >= NO_RESPONSE_ONSETS.value * dosing.onset.high
  if (expected < HARDLY_ANYTHING && !shown) return 'too early'
  if (shown && expected >= HARDLY_ANYTHING && most < expected / 3) return 'no response'
  if (most < toward * predicted.low) return 'less than expected'
  return 'as expected'
}

function stopOf(
  { bed, study }: BedFacts,
  plan: Plan,
  verdict: Follow['verdict'],
  now: number | null,
  begun: boolean,
): Follow['stop'] {
  if (plan.closedAt !== null || !begun) return null
  if (verdict === 'more than expected') return 'stopped'
  const band = study?.band ?? bandFor(bed).band
  const inside = now !== null && band !== null && now >= band.low && now <= band.high
  return inside ? 'reached' : null
}

/** Level and samples in [from, to). */
function measuredIn({ study, journal }: BedFacts, from: number, to: number): Measured {
  const level =
    study === null
      ? null
      : levelBetween(study.days.bed, from - DAY, to - DAY / 2, { least: LEAST_DAYS })
  return {
    ph:
      level === null
        ? null
        : {
            value: level.value,
            low: level.value - 1.96 * level.wholeSe,
            high: level.value + 1.96 * level.wholeSe,
          },
    from,
    to,
    samples: samplesIn(journal, to - SAMPLE_DAYS * DAY, to),
  }
}

/** From when its effect is full, or the newest fortnight before that; up to the portion after it. */
function measuredAfter(
  facts: BedFacts,
  putOnAt: number,
  until: number,
  fullAfter: number,
): Measured | null {
  const from = Math.max(putOnAt, Math.min(putOnAt + fullAfter, until - BEFORE_DAYS * DAY))
  if (until - from < LEAST_DAYS * DAY) return null
  return {
    ...measuredIn(facts, from, until + DAY / 2),
    from,
    to: until,
    samples: samplesIn(facts.journal, putOnAt, until),
  }
}

function samplesIn(
  journal: readonly JournalEntry[],
  from: number,
  to: number,
): readonly JournalEntry[] {
  return journal.filter((e) => e.kind === 'sample' && e.at >= from && e.at < to)
}

/** Predicted pH week by week, with the portions still to come on their days. */
function courseOf(
  { study, at }: BedFacts,
  plan: Plan,
  dosing: Dosing,
  portions: readonly PutOn[],
): Follow['course'] {
  const first = portions[0]
  if (first === undefined) return null
  const ahead =
    plan.closedAt !== null
      ? []
      : plan.stages.flatMap((stage): PutOn[] =>
          stage.entryId === null
            ? [{ stage, at: Math.max(stage.dueAt, at), amountG: stage.amountG }]
            : [],
        )
  const all = [...portions, ...ahead]
  const end = Math.max(
    at,
    ...all.map((portion) => portion.at + portion.stage.fullBy - portion.stage.dueAt),
  )
  const until = Math.min(end, Math.max(at + WEEK_MS, first.at + LONGEST_COURSE_MS))
  const before =
    study === null
      ? null
      : levelBetween(study.days.bed, first.at - 31 * DAY, first.at - DAY / 2, { least: LEAST_DAYS })
  const base = before?.value ?? plan.fromPh
  const count = Math.floor((until - first.at) / WEEK_MS) + 1
  const time = Float64Array.from({ length: count }, (_, i) => first.at + i * WEEK_MS)
  const changes = Array.from(time, (then) =>
    predictedChange(
      all.filter((portion) => portion.at <= then),
      dosing,
      then,
    ),
  )
  return {
    time,
    low: Float64Array.from(changes, (c) => base + Math.min(c.low, c.high)),
    typical: Float64Array.from(changes, (c) => base + c.typical),
    high: Float64Array.from(changes, (c) => base + Math.max(c.low, c.high)),
  }
}

function sentenceOf(
  facts: BedFacts,
  plan: Plan,
  state: {
    readonly verdict: Follow['verdict']
    readonly measured: MeasuredChange | null
    readonly predicted: Range
    readonly stop: Follow['stop']
    readonly ahead: NextPortion | null
    readonly seen: ReturnType<typeof measuredChange> | null
  },
): string {
  const { bed } = facts
  const { verdict, measured, predicted, stop, ahead, seen } = state
  const name = amendmentBySlug(plan.material).name
  const change =
    measured === null
      ? ''
      : `${bed.name} has moved by ${changeText(measured.value)} pH (${changeText(measured.low)} to ${changeText(measured.high)}) since the first ${name}; ${rangeWords(predicted)} were expected by now. `
  if (plan.closedAt !== null) {
    return `${change}The plan ended on ${dayText(plan.closedAt, facts.zone)}.`
  }
  if (stop === 'reached') {
    return `${change}It is inside its band: put nothing more on, and end the plan.`
  }
  const after = ahead === null ? '' : 'none' in ahead ? ahead.none : ahead.sentence
  switch (verdict) {
    case 'not begun':
      return `Nothing has been put on yet. ${after}`
    case 'cannot tell':
      return `${seen !== null && 'missing' in seen ? seen.missing : 'Nothing can be said yet.'} ${after}`
    case 'too early':
      return `${change}It is too early to judge. ${after}`
    case 'as expected':
      return `${change}${maybeTooMuch(measured, predicted) ? 'That may be more than expected, though the doubt is large: take a sample before anything more.' : 'That is as expected.'} ${after}`
    case 'less than expected':
      return `${change}That is less than expected; wait and measure rather than put on more. ${after}`
    case 'more than expected':
      return `${change}That is more than expected: put nothing more on, measure by hand, and end the plan.`
    case 'no response':
      return `${change}No response can be seen: put nothing more on until the reason is found.`
  }
}

/** More than half as much again, but not for certain. */
function maybeTooMuch(measured: MeasuredChange | null, predicted: Range): boolean {
  return (
    measured !== null &&
    measured.value / predicted.typical > OVERSHOOT_RATIO.value &&
    Math.abs(measured.value) > HARDLY_ANYTHING
  )
}

function rangeWords(predicted: Range): string {
  if (predicted === NO_CHANGE) return sizeText(0)
  return `${changeText(predicted.low)} to ${changeText(predicted.high)}`
}
