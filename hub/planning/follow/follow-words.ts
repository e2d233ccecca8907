import { massText, portionText } from '../../words/amount.ts'
import { OVERSHOOT_RATIO } from '../../agronomy/planning-limits.ts'
import { ph1 } from '../../analysis/format.ts'
import { DAY } from '../../model/clock.ts'
import type { Plan, Range } from '../../model/plan.ts'
import { amendmentBySlug } from '../../agronomy/amendments.ts'
import { changeText, sizeText } from '../amount-words.ts'
import type { BedFacts } from '../bed-facts.ts'
import type { Follow } from '../follow.ts'
import { wentOn } from '../went-on.ts'
import type { ChangeSince, MeasuredChange } from './measured-change.ts'
import type { NextPortion } from './next-portion.ts'
import { HARDLY_ANYTHING } from './plan-verdict.ts'
import { NO_CHANGE, type PutOn } from './predicted-change.ts'
import { saidHere } from '../../words/everywhere.ts'
import { fixed, counted, dayText, listed } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** What nobody knows the course of counts as at work for so long. */
const OTHERS_DAYS = 180

/** What was measured against what was expected, what to think of it, what comes next. */
export function followSentence(
  facts: BedFacts,
  plan: Plan,
  state: {
    readonly verdict: Follow['verdict']
    readonly measured: MeasuredChange | null
    readonly predicted: Range
    readonly stop: Follow['stop']
    readonly ahead: NextPortion | null
    readonly seen: ChangeSince | null
    readonly isPast: boolean
    /** Why nothing of this material may go on any more. */
    readonly against: string | null
    readonly portions: readonly PutOn[]
  },
): string {
  const { bed } = facts
  const { verdict, measured, predicted, stop, ahead, seen, isPast, against } = state
  const name = amendmentBySlug(plan.material).name
  const slip = plan.closedAt === null ? slipText(state.portions, name) : ''
  const change =
    measured === null
      ? slip
      : `${slip}${say`${bed.name} has moved by ${changeText(measured.value)} pH (${changeText(measured.low)} to ${changeText(measured.high)}) since the first ${name}; ${rangeWords(predicted)} were expected by now.`} `
  if (plan.closedAt !== null) {
    return `${change}${say`The plan ended on ${dayText(plan.closedAt, facts.zone)}.`}`
  }
  if (stop === 'reached') {
    return `${change}${say`It is inside its band: put nothing more on, and end the plan.`}`
  }
  if (stop === 'stopped' && verdict !== 'more than expected') {
    const why = against ?? say`the bed is no longer as it was.`
    return verdict !== 'not begun'
      ? `${change}${say`Put nothing more on, and end the plan: ${why}`}`
      : `${change}${say`Nothing has been put on yet. Put nothing on, and end the plan: ${why}`}`
  }
  const after = ahead === null ? '' : 'none' in ahead ? ahead.none : ahead.sentence
  switch (verdict) {
    case 'not begun':
      return `${say`Nothing has been put on yet.`} ${after}`
    case 'cannot tell':
      return `${slip}${seen !== null && 'missing' in seen ? seen.missing : say`Nothing can be said yet.`} ${after}`
    case 'too early':
      return `${change}${say`It is too early to judge.`} ${after}`
    case 'as expected':
      return `${change}${maybeTooMuch(measured, predicted) ? say`That may be more than expected, though the doubt is large: take a sample before anything more.` : say`That is as expected.`} ${after}`
    case 'less than expected':
      return `${change}${say`That is less than expected; wait and measure rather than put on more.`} ${after}`
    case 'more than expected':
      return `${change}${
        isPast
          ? say`It has gone past pH ${ph1(plan.targetPh)}, where it should have come to rest: put nothing more on, measure by hand, and end the plan.`
          : say`That is more than expected: put nothing more on, measure by hand, and end the plan.`
      }`
    case 'no response':
      return `${change}${say`No response can be seen: put nothing more on until the reason is found.`}`
  }
}

/** From so many times what was planned on it may be a slip of the pen. */
const MUCH_MORE = 2

function slipText(portions: readonly PutOn[], name: string): string {
  const given = portions.find(({ amountG, stage }) => amountG > MUCH_MORE * stage.amountG)
  return given === undefined
    ? ''
    : `${say`${massText(given.amountG)} of ${name} are written down where ${portionText(given.stage.amountG)} were planned: if that is a slip, correct it in the journal of the bed.`} `
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
  return say`${changeText(predicted.low)} to ${changeText(predicted.high)}`
}

/** What the sentence rests on: one fact a line. */
export function followGrounds(
  facts: BedFacts,
  plan: Plan,
  state: {
    readonly measured: MeasuredChange | null
    readonly predicted: Range
    readonly answers: Range
    readonly portions: readonly PutOn[]
  },
): readonly string[] {
  const { measured, predicted, answers, portions } = state
  const [first] = portions
  const basis = saidHere(plan.bases) ?? plan.basis
  if (first === undefined) return [basis]
  return [
    basis,
    ...(measured === null ? [] : [measured.against]),
    ...answersGround(measured, answers, predicted),
    ...othersGround(facts, plan, first.at),
    say`${counted(portions.length, 'portion')} of ${plan.stages.length} put on ${facts.bed.name}, the first on ${dayText(first.at, facts.zone)}.`,
  ]
}

function answersGround(
  measured: MeasuredChange | null,
  { low, typical, high }: Range,
  predicted: Range,
): readonly string[] {
  if (measured === null || Math.abs(predicted.typical) < HARDLY_ANYTHING) return []
  return [
    say`Taken together with what was planned, this bed answers ${fixed(typical, 1)} times as strongly as planned (${fixed(low, 1)} to ${fixed(high, 1)}); the next portion counts with that.`,
  ]
}

/** What else is at work on this bed and is part of what was measured. */
function othersGround(facts: BedFacts, { stages }: Plan, since: number): readonly string[] {
  const own = new Set(stages.map(({ entryId }) => entryId))
  const others = wentOn(facts).filter(
    ({ entry, at, dosing }) =>
      !own.has(entry.id) && at > since - (dosing?.peak.high ?? OTHERS_DAYS) * DAY,
  )
  if (others.length === 0) return []
  const names = others.map(({ row, at }) => say`${row.name} of ${dayText(at, facts.zone)}`)
  return [say`Also at work, and part of what was measured: ${listed(names)}.`]
}
