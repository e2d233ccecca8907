import type { Dosing } from '../../agronomy/dosing.ts'
import { portionText } from '../../words/amount.ts'
import { bandFor } from '../../analysis/band.ts'
import { DAY } from '../../model/clock.ts'
import type { Plan, PlanStage, Range } from '../../model/plan.ts'
import { amendmentBySlug } from '../../agronomy/amendments.ts'
import { sizeText } from '../amount-words.ts'
import type { BedFacts } from '../bed-facts.ts'
import { dayOf, daysAfter, startOf } from '../calendar.ts'
import { portionsApart, retestsAfter, suitableFrom } from '../draft/stage-days.ts'
import type { Follow } from '../follow.ts'
import type { Need } from '../need.ts'
import { type EarlierPortion, LEAST_REST_PH, type Portion, portionOf } from '../portions.ts'
import { seasonOf } from '../season.ts'
import { soilNowC, warmAgainAt } from '../soil-warmth.ts'
import { isFree } from '../told.ts'
import { wentOn } from '../went-on.ts'
import type { PlanCheck } from './against-plan.ts'
import { fullChange, predictedChange, type PutOn } from './predicted-change.ts'
import { dayText } from '../../words/figure.ts'
import { said, say, toSay } from '../../words/say.ts'

const YEAR_MS = 365 * DAY

export interface PlanState {
  /** What went on, in order. */
  readonly portions: readonly PutOn[]
  /** How strongly the bed answers, 1: as planned. */
  readonly answers: Range
  /** Present level of the bed, pH; null when it is not known. */
  readonly now: number | null
  readonly check: PlanCheck
}

/** The portion that comes next, or why none does. */
export type NextPortion = NonNullable<Follow['next']> | { readonly none: string }

/**
 * The next portion of a plan, its amount made anew by what the ones before it did: never more than was planned for it,
 * and within every limit a first portion keeps.
 */
export function nextPortion(
  facts: BedFacts,
  plan: Plan,
  dosing: Dosing,
  state: PlanState,
): NextPortion {
  const { portions } = state
  const index = plan.stages.findIndex(({ entryId }) => entryId === null)
  const stage = plan.stages[index]
  if (stage === undefined) {
    return { none: say`All portions are on: measure on, the effect goes on for a while.` }
  }
  const { bed } = facts
  const last = portions.at(-1)
  const dueAt = dueFrom(facts, dosing, stage, last)
  if (last === undefined) return firstPortion(facts, plan, dosing, { index, dueAt, ...state })
  const reckon = (day: number) => reckoned(facts, plan, dosing, { ...state, day })
  let day = dueAt
  const { left, earlier, ...asDue } = reckon(day)
  let { portion } = asDue
  if (left < LEAST_REST_PH) {
    return { none: say`What is on its way is enough for now: measure on.` }
  }
  if (portion.amountG <= 0 && (portion.held === 'year' || portion.held === 'cap')) {
    // What went on in the last year leaves no room before the oldest of it is a year ago.
    const oldest = Math.min(...earlier.filter((one) => one.at > day - YEAR_MS).map((one) => one.at))
    if (Number.isFinite(oldest)) {
      day = suitableFrom(facts, dosing, seasonOf(facts), oldest + YEAR_MS + DAY)
      portion = reckon(day).portion
    }
  }
  const amountG = Math.min(stage.amountG, portion.amountG)
  if (amountG <= 0) {
    return {
      none:
        portion.held === 'year' || portion.held === 'cap'
          ? say`As much as may go on in a year is on ${bed.name}: measure on.`
          : say`So little is left to do that it cannot be weighed: measure on.`,
    }
  }
  const why =
    amountG === stage.amountG
      ? say`as planned`
      : say`${portionText(stage.amountG)} were planned; ${said(WHY[portion.held])}`
  return {
    stage: index,
    dueAt: day,
    amountG,
    change: changeOf(stage, amountG, state.answers),
    sentence: say`Next ${portionText(amountG)} of ${amendmentBySlug(plan.material).name} on ${bed.name} ${dueWords(facts, day)}: ${why}. It is ${sizeText(left)} from where it should go. Measure before it.${firstOf(state.check.need, day, facts.at)}`,
  }
}

const WHY: Readonly<Record<Portion['held'], string>> = {
  'way left': toSay('by what the bed did so far this is enough for the way that is left'),
  step: toSay('this bed answers more strongly than was planned'),
  'worst case': toSay('this bed may answer more strongly than was planned'),
  year: toSay('more would be too much within a year'),
  cap: toSay('more may not go on at once or in a year'),
}

/** Below this share of the planned amount the bed is no longer the one the plan was made for; above it is noise. */
const AS_PLANNED = 0.8
/** Below this share of the planned buffering the bed was described anew: less deep, lighter, of another texture. */
const DESCRIBED_ANEW = 2 / 3

/** Share of the planned buffering that the bed as it is described today has; 1 where it is about the same or more. */
function shrunk({ buffering }: Plan, { buffering: present }: PlanCheck): number {
  const share = present === null ? 1 : present.gM2PerPh.typical / buffering.typical
  return share < DESCRIBED_ANEW ? share : 1
}

/** Nothing is on yet: as planned, unless the bed by what is known of it today bears only less. */
function firstPortion(
  facts: BedFacts,
  plan: Plan,
  dosing: Dosing,
  { index, dueAt, check }: PlanState & { readonly index: number; readonly dueAt: number },
): NextPortion {
  const stage = plan.stages[index]!
  const { bed, at } = facts
  const toward = Math.sign(plan.targetPh - plan.fromPh)
  const { need, buffering } = check
  const known = need.verdict === (toward > 0 ? 'raise' : 'lower') && need.from !== null
  const from = known ? need.from : plan.fromPh
  const { band } = bandFor(bed)
  const far = band === null ? plan.targetPh : toward > 0 ? band.high : band.low
  const way = Math.max(0, toward * (plan.targetPh - from))
  const onTheWay = known && need.coming !== null ? Math.max(0, toward * need.coming.value) : 0
  const range = buffering?.gM2PerPh ?? plan.buffering
  const portion = portionOf(facts, {
    dosing,
    buffering: range,
    strength: { low: plan.strength, typical: plan.strength, high: plan.strength },
    left: Math.max(0, way - onTheWay),
    room: Math.max(0, toward * (far - from) - onTheWay),
    first: true,
    at: Math.max(dueAt, at),
    earlier: earlierOn(facts, toward, range.typical),
  })
  const less = portion.amountG < AS_PLANNED * stage.amountG
  if (less && portion.amountG === 0) {
    return {
      none: say`Put nothing on: as ${bed.name} is now there is no room for the ${portionText(stage.amountG)} that were planned. Give the plan up and make a new one.`,
    }
  }
  const amountG = less ? portion.amountG : stage.amountG
  const share = amountG / stage.amountG
  return {
    stage: index,
    dueAt,
    amountG,
    change: less ? signed(portion.change, toward) : stage.change,
    sentence: say`Put on ${portionText(amountG)} of ${amendmentBySlug(plan.material).name} ${dueWords(facts, dueAt)}.${
      share < 1
        ? ` ${say`${portionText(stage.amountG)} were planned, but ${bed.name} is not as it was when the plan was made (its size, depth, soil, pH or what went on it), and more would be too much. Better give this plan up and make a new one.`}`
        : ''
    }${firstOf(need, dueAt, at)}`,
  }
}

/** What has to be put right or waited for before a portion that is near. */
const SOON_MS = 14 * DAY
function firstOf({ told }: Need, dueAt: number, at: number): string {
  const blocks = dueAt > at + SOON_MS ? undefined : told.find((one) => !isFree([one]))
  return blocks === undefined ? '' : ` ${say`First: ${blocks.sentence}`}`
}

function signed({ low, typical, high }: Range, toward: number): Range {
  return { low: toward * low, typical: toward * typical, high: toward * high }
}

/** What an amount does at its fullest where the bed answers like this, signed pH. */
function changeOf({ change, amountG: planned }: PlanStage, amountG: number, answers: Range): Range {
  const typical = (change.typical * amountG) / planned
  return {
    low: typical * answers.low,
    typical: typical * answers.typical,
    high: typical * answers.high,
  }
}

/** The way that is left, size in pH, and the portion for it by the same limits as the plan was made with. */
function reckoned(
  facts: BedFacts,
  plan: Plan,
  dosing: Dosing,
  { portions, answers, now, check, day }: PlanState & { readonly day: number },
): {
  readonly left: number
  readonly portion: Portion
  readonly earlier: readonly EarlierPortion[]
} {
  const { at, bed } = facts
  const toward = Math.sign(plan.targetPh - plan.fromPh)
  const done = predictedChange(portions, dosing, at).typical
  const coming = Math.max(0, toward * (fullChange(portions).typical - done)) * answers.typical
  const level = now ?? plan.fromPh + answers.typical * done
  const { band } = bandFor(bed)
  const far = band === null ? plan.targetPh : toward > 0 ? band.high : band.low
  // The crops may be others than when the plan was made: never past what they bear.
  const aim = toward > 0 ? Math.min(plan.targetPh, far) : Math.max(plan.targetPh, far)
  const left = toward * (aim - level) - coming
  // A bed that answers more strongly holds its pH less.
  const planned = plan.buffering.typical * shrunk(plan, check)
  const buffering = {
    low: planned / answers.high,
    typical: planned / answers.typical,
    high: planned / answers.low,
  }
  const earlier = earlierOn(facts, toward, buffering.typical)
  const portion = portionOf(facts, {
    dosing,
    buffering,
    strength: { low: plan.strength, typical: plan.strength, high: plan.strength },
    left: Math.max(0, left),
    room: Math.max(left, toward * (far - level) - coming),
    first: false,
    at: day,
    earlier,
  })
  return { left, portion, earlier }
}

/** What the journal has of this direction, of this plan or not. */
function earlierOn(facts: BedFacts, toward: number, gM2PerPh: number): readonly EarlierPortion[] {
  return wentOn(facts)
    .filter((dose) => dose.toward === toward)
    .map(({ at, row, gM2, strength }) => ({
      at,
      slug: row.slug,
      gM2,
      // Unknown amounts count as half a pH, the most that one portion should do.
      movedPh: gM2 === null || strength === null ? 0.5 : (gM2 * strength.typical) / gM2PerPh,
    }))
}

/**
 * Not before it was planned, nor before the re-test of the last portion and the pause after it, counted from the day it
 * really went on; in the season, on warm soil where that matters. What could have gone on before today keeps its day.
 */
function dueFrom(
  facts: BedFacts,
  dosing: Dosing,
  stage: PlanStage,
  last: PutOn | undefined,
): number {
  const { at, zone } = facts
  const season = seasonOf(facts)
  const earliest =
    last === undefined
      ? stage.dueAt
      : Math.max(
          stage.dueAt,
          retestsAfter(facts, dosing, last.at)[0] ?? 0,
          daysAfter(last.at, portionsApart(dosing), zone),
        )
  if (earliest > at) return suitableFrom(facts, dosing, season, earliest)
  const least = dosing.leastSoilC?.value ?? null
  const nowC = soilNowC(facts)
  const today = startOf(dayOf(at, zone), zone)
  const cold = least !== null && nowC !== null && nowC < least
  const from = suitableFrom(facts, dosing, season, cold ? (warmAgainAt(facts, least) ?? at) : at)
  return from > today ? from : earliest
}

function dueWords({ at, zone }: BedFacts, dueAt: number): string {
  const day = dayText(dueAt, zone)
  if (dueAt > at) return say`from ${day} on`
  return day === dayText(at, zone) ? say`today` : say`now; it has been due since ${day}`
}
