import type { Dosing } from '../../agronomy/dosing.ts'
import { CONFIRM_DAYS, PER_YEAR_PH } from '../../agronomy/planning-limits.ts'
import { bandText, ph1 } from '../../analysis/format.ts'
import { DAY } from '../../model/clock.ts'
import type { PlanStage } from '../../model/plan.ts'
import { sizeText } from '../amount-words.ts'
import type { BedFacts } from '../bed-facts.ts'
import type { Need } from '../need.ts'
import type { MaterialOption } from '../options.ts'
import type { Portion } from '../portions.ts'
import { tell, type Told } from '../told.ts'
import { counted, dayText, figure } from '../../words/figure.ts'
import { said, say } from '../../words/say.ts'

/** A label may say a little more than the pure material could: rounding, magnesium. */
const LABEL_SLACK = 1.1
/** Weaker than this share of the weakest usual product: rather a slip, or another product. Judgement. */
const LABEL_LEAST = 0.5

/** What a plan rests on is missing. */
export function notKnown(): Told {
  return tell(
    'ask',
    say`A plan needs a known pH, a band, something to change, and how the bed holds its pH.`,
    say`A dose without one of them is a guess.`,
    ['MEM'],
  )
}

export function labelTold(
  option: MaterialOption,
  { acts, label }: Dosing,
  strength: number | null,
): readonly Told[] {
  if (strength === null) return []
  const most = LABEL_SLACK * Math.max(acts.high, label.perWhole)
  const least = LABEL_LEAST * acts.low
  if (strength >= least && strength <= most) return []
  const percent = (of: number): string => figure((100 * of) / label.perWhole, 1)
  const usual = say`${percent(acts.low)} to ${percent(acts.high)} % are usual`
  return [
    tell(
      'ask',
      strength > most
        ? say`${percent(strength)} % (${said(label.words)}) is more than ${option.name} can have; ${usual}. Look at the label again.`
        : say`${percent(strength)} % (${said(label.words)}) is far less than ${option.name} has; ${usual}. Look at the label again; if it says so all the same, leave the strength empty: what is reckoned with the usual one rather falls short.`,
      say`The strength decides the dose: one that is too low makes the portions too large.`,
      [acts.source],
    ),
  ]
}

export function nothingFits(
  facts: BedFacts,
  option: MaterialOption,
  held: Portion['held'] | null,
  already: boolean,
): Told {
  const { bed } = facts
  if (held === null) {
    return tell(
      'refuse',
      say`In the next two years there is no day on which ${option.name} could go on ${bed.name}: its soil is never warm enough in the season.`,
      say`In the cold it would lie there without acting.`,
      ['MEM'],
    )
  }
  if ((held === 'year' || held === 'cap') && already) {
    return tell(
      'refuse',
      say`What went on ${bed.name} already leaves no room for ${option.name} within what may go on in a year.`,
      say`More in a year than soil and plants bear does harm that takes years to undo.`,
      [PER_YEAR_PH.source],
    )
  }
  if (held === 'worst case') {
    return tell(
      'refuse',
      say`What went on ${bed.name} earlier may still bring it to the other side of its band: wait, and measure again.`,
      say`An overshoot takes years to undo.`,
      ['ERA_PG'],
    )
  }
  if (held === 'cap') {
    return tell(
      'refuse',
      say`As much ${option.name} as may go on moves ${bed.name} by less than can be measured: take something stronger.`,
      say`What cannot be seen to work cannot be followed.`,
      ['MEM'],
    )
  }
  return tell(
    'refuse',
    say`${bed.name} would need so little ${option.name} at once that kitchen scales cannot show it.`,
    say`What cannot be weighed cannot be dosed.`,
    ['MEM'],
  )
}

export function pastTheMiddle({ target, band, change }: Need): readonly Told[] {
  if (target === null || band === null) return []
  const middle = (band.low + band.high) / 2
  const past = change > 0 ? target - middle : middle - target
  if (past <= 0.05) return []
  return [
    tell(
      'warn',
      say`pH ${ph1(target)} lies past the middle of the band ${bandText(band)}: if the soil holds its pH less than thought, the bed leaves the band on the other side.`,
      say`An overshoot takes years to undo.`,
      ['ERA_PG'],
    ),
  ]
}

/** By then the sample that confirms the need is too old to do so. */
export function longAhead({ bed, at, zone }: BedFacts, { dueAt }: PlanStage): readonly Told[] {
  if (dueAt - at <= CONFIRM_DAYS.value * DAY) return []
  return [
    tell(
      'tell',
      say`The first portion lies ahead: take another sample of ${bed.name} shortly before ${dayText(dueAt, zone)} and make the plan anew if it says otherwise.`,
      say`A sample older than ${CONFIRM_DAYS.value} days does not confirm where the bed is.`,
      [CONFIRM_DAYS.source],
      { settle: 'sample' },
    ),
  ]
}

export function goesSoFar(
  { bed }: BedFacts,
  need: Need,
  stages: readonly PlanStage[],
  { short, held }: { short: number; held: Portion['held'] | null },
): Told {
  const whole = Math.abs(need.change)
  const then =
    held === 'cap'
      ? say`No more of it may go on: a material of another strength goes further, or choose crops that fit the bed as it is.`
      : say`Then look at it anew; crops that fit the bed as it is, or a bed filled for these, may be the better way.`
  return tell(
    'limit',
    stages.length === 1
      ? say`${counted(stages.length, 'portion')} goes ${sizeText(whole - short)} of the ${sizeText(whole)} that ${bed.name} needs. ${then}`
      : say`${counted(stages.length, 'portion')} go ${sizeText(whole - short)} of the ${sizeText(whole)} that ${bed.name} needs. ${then}`,
    say`What more would be needed after so long nobody can foresee.`,
    ['MEM'],
  )
}
