import { type Dosing, dosingOf } from '../agronomy/dosing.ts'
import { CONFIRM_DAYS, PER_APPLICATION_PH, PER_YEAR_PH } from '../agronomy/planning-limits.ts'
import { bandText, counted, ph1 } from '../analysis/format.ts'
import { DAY } from '../model/clock.ts'
import type { NewPlan, PlanStage, Range } from '../model/plan.ts'
import { gramsText, sizeText } from './amount-words.ts'
import type { BedFacts } from './bed-facts.ts'
import type { Buffering } from './buffering.ts'
import { dayFrom, dayOf, daysAfter, dayText, startOf } from './calendar.ts'
import { fullEffect } from './coming.ts'
import { doseOf } from './dose.ts'
import { draftCourse, endsOf } from './draft/draft-course.ts'
import { nextStageFrom, portionsApart, retestsAfter, suitableFrom } from './draft/stage-days.ts'
import type { Need } from './need.ts'
import type { MaterialOption } from './options.ts'
import {
  type EarlierPortion,
  LEAST_REST_PH,
  LEAST_STEP_PH,
  type Portion,
  portionOf,
} from './portions.ts'
import { type Season, seasonOf } from './season.ts'
import { byGravity, mayPlan, tell, type Told } from './told.ts'
import { wentOn } from './went-on.ts'

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

/** More portions than this nobody can foresee: the bed is looked at anew. */
const MOST_STAGES = 4
const HORIZON_MS = 2 * 365 * DAY
/** A label may say a little more than the pure material could: rounding, magnesium. */
const LABEL_SLACK = 1.1

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
    return { refused: [NOT_KNOWN] }
  }
  if (need.target === null || need.change === 0) return { refused: [NOT_KNOWN] }
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
      'Every portion is reckoned anew from what the one before did; stop when the bed is inside its band.',
      'What a bed does is known better than what tables say of it.',
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
            `By the sample the bed is at pH ${ph1(need.from)} where the probes say ${ph1(need.ph.value)}: the smaller way counts, and the course is drawn by the probes.`,
          ]),
      ...(doseOf(facts, need, buffering, dosing, strength)?.steps ?? []),
      'The first portion is reckoned half-way between the least and the usual figure, the later ones with the usual one; all are rounded down.',
      season.sentence,
      ...countedGround(facts, Math.sign(need.change), buffering),
      `Portions are at least ${portionsApart(dosing)} days apart, and after the measuring in between.`,
      ...buffering.parts.map(({ sentence }) => sentence),
    ],
  }
}

const NOT_KNOWN = tell(
  'ask',
  'A plan needs a known pH, a band, something to change, and how the bed holds its pH.',
  'A dose without one of them is a guess.',
  ['MEM'],
)

function labelTold(
  option: MaterialOption,
  { acts, label }: Dosing,
  strength: number | null,
): readonly Told[] {
  if (strength === null) return []
  const most = LABEL_SLACK * Math.max(acts.high, label.perWhole)
  if (strength > 0 && strength <= most) return []
  return [
    tell(
      'ask',
      `A strength of ${strength} is more than ${option.name} can have (at most ${most.toFixed(2)}), or none: look at the label again, it says ${label.words}.`,
      'The strength decides the dose.',
      [acts.source],
    ),
  ]
}

interface Staging {
  readonly need: Need
  readonly buffering: Buffering
  readonly option: MaterialOption
  readonly dosing: Dosing
  readonly acts: Range
  readonly season: Season
}

/** The portions one after the other; `left` is the way that none of them goes. */
function stagesOf(
  facts: BedFacts,
  { need, buffering, option, dosing, acts, season }: Staging,
): { stages: readonly PlanStage[]; left: number; held: Portion['held'] | null } {
  const { at, zone, bed } = facts
  const sign = Math.sign(need.change)
  const earlier = alreadyOn(facts, sign, buffering)
  const far = sign > 0 ? need.band!.high : need.band!.low
  // What is at work already may do its utmost.
  const coming = Math.max(
    0,
    ...[need.coming?.low ?? 0, need.coming?.high ?? 0].map((c) => sign * c),
  )
  let left = Math.abs(need.change)
  let room = sign * (far - need.from!) - coming
  let from = Math.max(
    startOf(dayOf(at, zone), zone),
    ...option.told.flatMap(({ until }) =>
      until === null ? [] : startOf(dayFrom(until, zone), zone),
    ),
  )
  let held: Portion['held'] | null = null
  const stages: PlanStage[] = []
  while (stages.length < MOST_STAGES && left >= (stages.length === 0 ? 0 : LEAST_REST_PH)) {
    const dueAt = suitableFrom(facts, dosing, season, from)
    if (dueAt > at + HORIZON_MS) break
    const portion = portionOf(facts, {
      dosing,
      buffering: buffering.gM2PerPh,
      strength: acts,
      left,
      room,
      first: stages.length === 0,
      at: dueAt,
      earlier,
    })
    held = portion.held
    if (portion.amountG === 0 || portion.change.typical < Math.min(LEAST_STEP_PH, left / 2)) {
      const opens = yearOpens(earlier, dueAt)
      if (opens === null || (held !== 'year' && held !== 'cap')) break
      from = startOf(dayFrom(opens, zone), zone)
      continue
    }
    const retestsAt = retestsAfter(facts, dosing, dueAt)
    stages.push({
      dueAt,
      amountG: portion.amountG,
      change: {
        low: sign * portion.change.low,
        typical: sign * portion.change.typical,
        high: sign * portion.change.high,
      },
      fullFrom: daysAfter(dueAt, dosing.peak.low, zone),
      fullBy: daysAfter(dueAt, dosing.peak.high, zone),
      retestsAt,
      entryId: null,
    })
    earlier.push({
      at: dueAt,
      slug: option.material,
      gM2: portion.amountG / bed.areaM2,
      movedPh: portion.change.typical,
    })
    left -= portion.change.typical
    room -= portion.change.typical
    from = nextStageFrom(dosing, dueAt, retestsAt, zone)
  }
  return { stages, left, held }
}

const YEAR_MS = 365 * DAY

/** What the journal says went on this way in the year before. */
function alreadyOn(facts: BedFacts, sign: number, buffering: Buffering): EarlierPortion[] {
  return wentOn(facts)
    .filter((dose) => dose.toward === sign && dose.at > facts.at - YEAR_MS)
    .map((dose) => ({
      at: dose.at,
      slug: dose.row.slug,
      gM2: dose.gM2,
      // What was not written down counts as large as one portion may be.
      movedPh: dose.gM2 === null ? PER_APPLICATION_PH.value : fullEffect(dose, buffering).typical,
    }))
}

function countedGround(facts: BedFacts, sign: number, buffering: Buffering): readonly string[] {
  const on = alreadyOn(facts, sign, buffering)
  if (on.length === 0) return []
  const moved = on.reduce((sum, one) => sum + one.movedPh, 0)
  return [
    `Counted into this year: ${counted(on.length, 'treatment')} of the last twelve months, worth about ${sizeText(moved)}${on.some(({ gM2 }) => gM2 === null) ? '; one whose amount was not written down is taken as large' : ''}.`,
  ]
}

/** When the next of the earlier portions falls out of the year; null when none does. */
function yearOpens(earlier: readonly EarlierPortion[], at: number): number | null {
  const inYear = earlier.filter((one) => one.at > at - YEAR_MS)
  return inYear.length === 0 ? null : Math.min(...inYear.map((one) => one.at)) + YEAR_MS
}

function nothingFits(
  facts: BedFacts,
  option: MaterialOption,
  held: Portion['held'] | null,
  already: boolean,
): Told {
  const { bed } = facts
  if ((held === 'year' || held === 'cap') && already) {
    return tell(
      'refuse',
      `What went on ${bed.name} already leaves no room for ${option.name} within what may go on in a year.`,
      'More in a year than soil and plants bear does harm that takes years to undo.',
      [PER_YEAR_PH.source],
    )
  }
  if (held === 'worst case') {
    return tell(
      'refuse',
      `What went on ${bed.name} earlier may still bring it to the other side of its band: wait, and measure again.`,
      'An overshoot takes years to undo.',
      ['ERA_PG'],
    )
  }
  if (held === 'cap') {
    return tell(
      'refuse',
      `As much ${option.name} as may go on moves ${bed.name} by less than can be measured: take something stronger.`,
      'What cannot be seen to work cannot be followed.',
      ['MEM'],
    )
  }
  return tell(
    'refuse',
    `${bed.name} would need so little ${option.name} at once that kitchen scales cannot show it.`,
    'What cannot be weighed cannot be dosed.',
    ['MEM'],
  )
}

function pastTheMiddle({ target, band, change }: Need): readonly Told[] {
  if (target === null || band === null) return []
  const middle = (band.low + band.high) / 2
  const past = change > 0 ? target - middle : middle - target
  if (past <= 0.05) return []
  return [
    tell(
      'warn',
      `pH ${ph1(target)} lies past the middle of the band ${bandText(band)}: if the soil holds its pH less than thought, the bed leaves the band on the other side.`,
      'An overshoot takes years to undo.',
      ['ERA_PG'],
    ),
  ]
}

/** By then the sample that confirms the need is too old to do so. */
function longAhead({ bed, at, zone }: BedFacts, { dueAt }: PlanStage): readonly Told[] {
  if (dueAt - at <= CONFIRM_DAYS.value * DAY) return []
  return [
    tell(
      'tell',
      `The first portion lies ahead: take another sample of ${bed.name} shortly before ${dayText(dueAt, zone)} and make the plan anew if it says otherwise.`,
      `A sample older than ${CONFIRM_DAYS.value} days does not confirm where the bed is.`,
      [CONFIRM_DAYS.source],
      { settle: 'sample' },
    ),
  ]
}

function goesSoFar(
  { bed }: BedFacts,
  need: Need,
  stages: readonly PlanStage[],
  { short, held }: { short: number; held: Portion['held'] | null },
): Told {
  const whole = Math.abs(need.change)
  return tell(
    'limit',
    `${counted(stages.length, 'portion')} ${stages.length === 1 ? 'goes' : 'go'} ${sizeText(whole - short)} of the ${sizeText(whole)} that ${bed.name} needs. ${held === 'cap' ? 'No more of it may go on: a material of another strength goes further, or choose crops that fit the bed as it is.' : 'Then look at it anew; crops that fit the bed as it is, or a bed filled for these, may be the better way.'}`,
    'What more would be needed after so long nobody can foresee.',
    ['MEM'],
  )
}

function sentenceOf(
  { bed, zone }: BedFacts,
  option: MaterialOption,
  need: Need,
  stages: readonly PlanStage[],
  ends: Range,
  short: number,
): string {
  const list = stages.map((s) => `${gramsText(s.amountG)} from ${dayText(s.dueAt, zone)}`)
  const word = stages.length === 1 ? 'One portion' : `${stages.length} portions`
  const [first] = stages as [PlanStage]
  const last = stages.at(-1)!
  return (
    `${word} of ${option.name} on ${bed.name}: ${list.join(', ')}.` +
    ` It is expected to come from pH ${ph1(need.ph!.value)} to about ${ph1(ends.typical)} (${ph1(ends.low)} to ${ph1(ends.high)} if nobody measured in between) by ${dayText(last.fullBy, zone)}` +
    `${short > 0 ? `, ${sizeText(short)} short of ${ph1(need.target!)}` : ''}.` +
    ` Measure again on ${dayText(first.retestsAt[0] ?? first.fullFrom, zone)}${stages.length > 1 ? ', before the second' : ''}.`
  )
}
