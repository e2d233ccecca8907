import { portionText } from '../words/amount.ts'
import { dosingOf } from '../agronomy/dosing.ts'
import { ph1 } from '../analysis/format.ts'
import type { NewPlan, PlanStage, Range } from '../model/plan.ts'
import { sizeText } from './amount-words.ts'
import type { BedFacts } from './bed-facts.ts'
import type { Buffering } from './buffering.ts'
import { doseOf } from './dose.ts'
import { draftCourse, endsOf } from './draft/draft-course.ts'
import {
  goesSoFar,
  labelTold,
  longAhead,
  notKnown,
  nothingFits,
  pastTheMiddle,
} from './draft/draft-told.ts'
import { portionsApart } from './draft/stage-days.ts'
import { alreadyOn, stagesOf } from './draft/stages.ts'
import type { Need } from './need.ts'
import type { MaterialOption } from './options.ts'
import { LEAST_REST_PH } from './portions.ts'
import { seasonOf } from './season.ts'
import { byGravity, mayPlan, tell, type Told } from './told.ts'
import { counted, dayText } from '../words/figure.ts'
import { say } from '../words/say.ts'

/** A plan as it would be kept. */
export interface Draft {
  readonly plan: NewPlan
  /** Where the bed is expected to end up, pH. */
  readonly ends: Range
  /** Expected pH from today on: week by week, lowest, most likely, highest. */
  readonly course: {
    readonly time: Float64Array
    readonly low: Float64Array
    readonly typical: Float64Array
    readonly high: Float64Array
  }
  readonly told: readonly Told[]
  readonly sentence: string
  readonly grounds: readonly string[]
}

/**
 * A staged series of small treatments. No stage may move the bed by more than half a pH as far as it is likely, nor by
 * one pH in the worst case; none comes before the one before has shown what it does.
 *
 * @param strength g of calcium carbonate per g of the product, from its label; null: as usual
 * @returns why not, when the material cannot be used for this bed or its dose is not known
 */
export function draftPlan(
  facts: BedFacts,
  need: Need,
  buffering: Buffering | null,
  option: MaterialOption,
  strength: number | null,
): Draft | { readonly refused: readonly Told[] } {
  const dosing = dosingOf(option.material)
  const against = byGravity([
    ...option.told.filter((told) => !mayPlan([told])),
    ...need.told.filter((told) => !mayPlan([told]) && !option.told.includes(told)),
    ...(dosing === null ? [] : labelTold(option, dosing, strength)),
  ])
  if (against.length > 0) return { refused: against }
  if (
    dosing === null ||
    buffering === null ||
    need.ph === null ||
    need.from === null ||
    need.band === null
  ) {
    return { refused: [notKnown()] }
  }
  if (need.target === null || need.change === 0) return { refused: [notKnown()] }
  const acts: Range =
    strength === null
      ? { low: dosing.acts.low, typical: dosing.acts.typical, high: dosing.acts.high }
      : { low: strength, typical: strength, high: strength }
  const season = seasonOf(facts)
  const { stages, left, held } = stagesOf(facts, { need, buffering, option, dosing, acts, season })
  if (stages.length === 0) {
    const already = alreadyOn(facts, Math.sign(need.change), buffering).length > 0
    return { refused: [nothingFits(facts, option, held, already)] }
  }
  const ends = endsOf(need, stages)
  const short = left >= LEAST_REST_PH ? left : 0
  const told = byGravity([
    ...option.told,
    ...pastTheMiddle(need),
    ...longAhead(facts, stages[0]!),
    ...(short > 0 ? [goesSoFar(facts, need, stages, { short, held })] : []),
    tell(
      'tell',
      say`Every portion is reckoned anew from what the one before did; stop when the bed is inside its band.`,
      say`What a bed does is known better than what tables say of it.`,
      ['MEM'],
    ),
  ])
  return {
    plan: {
      bedId: facts.bed.id,
      material: option.material,
      strength: acts.typical,
      fromPh: need.ph.value,
      targetPh: need.target,
      buffering: buffering.gM2PerPh,
      basis: buffering.sentence,
      stages,
    },
    ends,
    course: draftCourse(facts.at, need, dosing, stages),
    told,
    sentence: sentenceOf(facts, option, need, stages, ends, short),
    grounds: [
      ...(need.from === need.ph.value
        ? []
        : [
            say`By the sample the bed is at pH ${ph1(need.from)} where the probes say ${ph1(need.ph.value)}: the smaller way counts, and the course is drawn by the probes.`,
          ]),
      ...(doseOf(facts, need, buffering, dosing, strength)?.steps ?? []),
      say`The first portion is reckoned half-way between the least and the usual figure, the later ones with the usual one; all are rounded down.`,
      season.sentence,
      ...countedGround(facts, Math.sign(need.change), buffering),
      say`Portions are at least ${portionsApart(dosing)} days apart, and after the measuring in between.`,
      ...buffering.parts.map(({ sentence }) => sentence),
    ],
  }
}

/** What went on before is part of the year. */
function countedGround(facts: BedFacts, sign: number, buffering: Buffering): readonly string[] {
  const on = alreadyOn(facts, sign, buffering)
  if (on.length === 0) return []
  const moved = on.reduce((sum, one) => sum + one.movedPh, 0)
  return [
    on.some(({ gM2 }) => gM2 === null)
      ? say`Counted into this year: ${counted(on.length, 'treatment')} of the last twelve months, worth about ${sizeText(moved)}; one whose amount was not written down is taken as large.`
      : say`Counted into this year: ${counted(on.length, 'treatment')} of the last twelve months, worth about ${sizeText(moved)}.`,
  ]
}

function sentenceOf(
  { bed, zone }: BedFacts,
  option: MaterialOption,
  need: Need,
  stages: readonly PlanStage[],
  ends: Range,
  short: number,
): string {
  const list = stages.map((s) => say`${portionText(s.amountG)} from ${dayText(s.dueAt, zone)}`)
  const word = stages.length === 1 ? say`One portion` : say`${stages.length} portions`
  const [first] = stages as [PlanStage]
  const last = stages.at(-1)!
  return stages.length > 1
    ? say`${word} of ${option.name} on ${bed.name}: ${list.join(', ')}. It is expected to come from pH ${ph1(need.ph!.value)} to about ${ph1(ends.typical)} (${ph1(ends.low)} to ${ph1(ends.high)} if nobody measured in between) by ${dayText(last.fullBy, zone)}${short > 0 ? `, ${say`${sizeText(short)} short of ${ph1(need.target!)}`}` : ''}. Measure again on ${dayText(first.retestsAt[0] ?? first.fullFrom, zone)}, before the second.`
    : say`${word} of ${option.name} on ${bed.name}: ${list.join(', ')}. It is expected to come from pH ${ph1(need.ph!.value)} to about ${ph1(ends.typical)} (${ph1(ends.low)} to ${ph1(ends.high)} if nobody measured in between) by ${dayText(last.fullBy, zone)}${short > 0 ? `, ${say`${sizeText(short)} short of ${ph1(need.target!)}`}` : ''}. Measure again on ${dayText(first.retestsAt[0] ?? first.fullFrom, zone)}.`
}
