import type { Dosing } from '../../agronomy/dosing.ts'
import { bandFor } from '../../analysis/band.ts'
import { DAY } from '../../model/clock.ts'
import type { Plan, Range } from '../../model/plan.ts'
import { gramsText, sizeText } from '../amount-words.ts'
import type { BedFacts } from '../bed-facts.ts'
import type { Buffering } from '../buffering.ts'
import { dayText } from '../calendar.ts'
import { fullEffect } from '../coming.ts'
import { suitableFrom } from '../draft/stage-days.ts'
import type { Follow } from '../follow.ts'
import { type EarlierPortion, LEAST_STEP_PH, portionOf } from '../portions.ts'
import { seasonOf } from '../season.ts'
import { wentOn } from '../went-on.ts'
import type { MeasuredChange } from './measured-change.ts'
import { fullChange, predictedChange, type PutOn } from './predicted-change.ts'

const YEAR_MS = 365 * DAY
/** 90 % of a normal error, each way. */
const Z90 = 1.645
/** What was measured may not say more than this of how the soil answers: a slip of a probe must not triple a dose. */
const ANSWERS = { least: 0.4, most: 2.5 } as const

/** How strongly the bed answers compared with what was planned, 1: as planned; and its standard error. */
export interface Answer {
  readonly factor: number
  readonly se: number
}

/** What was planned and what was measured, each weighing by how sure it is. */
export function answerOf(predicted: Range, measured: MeasuredChange | null): Answer {
  const planned = {
    value: 1,
    se:
      predicted.typical === 0
        ? 0.5
        : Math.abs(predicted.high - predicted.low) / (2 * Z90 * Math.abs(predicted.typical)),
  }
  if (measured === null || predicted.typical === 0) return { factor: 1, se: planned.se }
  const seen = {
    value: measured.value / predicted.typical,
    se: measured.se / Math.abs(predicted.typical),
  }
  const [a, b] = [1 / planned.se ** 2, 1 / seen.se ** 2]
  const factor = (a * planned.value + b * seen.value) / (a + b)
  return {
    factor: Math.min(ANSWERS.most, Math.max(ANSWERS.least, factor)),
    se: Math.sqrt(1 / (a + b)),
  }
}

/**
 * The portion that comes next, its amount by what the ones before it did: never more than was planned for it. Null when
 * none is left, or what is on its way already is enough.
 *
 * @param now present level of the bed, pH; null when it is not known
 */
export function nextPortion(
  facts: BedFacts,
  plan: Plan,
  dosing: Dosing,
  state: {
    readonly portions: readonly PutOn[]
    readonly predicted: Range
    readonly measured: MeasuredChange | null
    readonly now: number | null
  },
): Follow['next'] {
  const { portions, predicted, measured, now } = state
  const index = plan.stages.findIndex(({ entryId }) => entryId === null)
  const stage = plan.stages[index]
  if (stage === undefined) return null
  const { bed, at, zone } = facts
  const last = portions.at(-1)
  // The plan's own pauses are kept, counted from the day the last portion really went on.
  const apart = last === undefined ? 0 : (last.stage.retestsAt[0] ?? 0) - last.stage.dueAt
  const earliest = Math.max(stage.dueAt, last === undefined ? 0 : last.at + apart)
  const dueAt = earliest <= at ? earliest : suitableFrom(facts, dosing, seasonOf(facts), earliest)
  if (last === undefined) {
    return {
      stage: index,
      dueAt,
      amountG: stage.amountG,
      sentence: `Put on ${gramsText(stage.amountG)} ${dueWords(dueAt, at, zone)}.`,
    }
  }
  const toward = plan.targetPh > plan.fromPh ? 1 : -1
  const { factor } = answerOf(predicted, measured)
  const level = now ?? plan.fromPh + predicted.typical
  const onTheWay = fullChange(portions).typical - predictedChange(portions, dosing, at).typical
  const coming = Math.max(0, toward * factor * onTheWay)
  const left = toward * (plan.targetPh - level) - coming
  if (left < LEAST_STEP_PH) return null
  // What was seen stands in for what was thought: a bed that answers more strongly holds its pH less.
  const buffering = {
    low: plan.buffering.low / factor,
    typical: plan.buffering.typical / factor,
    high: plan.buffering.high / factor,
  }
  const earlier = earlierOf(facts, plan, toward, buffering)
  const band = facts.study?.band ?? bandFor(bed).band
  const farEdge = toward > 0 ? (band?.high ?? plan.targetPh) : (band?.low ?? plan.targetPh)
  const ask = (day: number) =>
    portionOf(facts, {
      dosing,
      buffering,
      strength: { low: plan.strength, typical: plan.strength, high: plan.strength },
      left,
      room: toward * (farEdge - level) - coming,
      first: false,
      at: day,
      earlier,
    }).amountG
  let day = dueAt
  let most = ask(day)
  if (most <= 0) {
    // What went on in the last year leaves no room before the oldest of it is a year ago.
    const oldest = Math.min(...earlier.filter((one) => one.at > day - YEAR_MS).map(({ at }) => at))
    if (!Number.isFinite(oldest)) return null
    day = suitableFrom(facts, dosing, seasonOf(facts), oldest + YEAR_MS + DAY)
    most = ask(day)
  }
  const amountG = Math.min(stage.amountG, most)
  if (amountG <= 0) return null
  const why =
    amountG === stage.amountG
      ? 'as planned'
      : `${gramsText(stage.amountG)} were planned; with what the bed did so far and what may go on in a year, ${gramsText(amountG)} for the ${sizeText(left)} that are left`
  return {
    stage: index,
    dueAt: day,
    amountG,
    sentence: `Next ${gramsText(amountG)} on ${bed.name} ${dueWords(day, at, zone)}: ${why}. Measure before it.`,
  }
}

/** Everything of this direction that went on this bed, of this plan or not. */
function earlierOf(facts: BedFacts, plan: Plan, toward: 1 | -1, gM2PerPh: Range): EarlierPortion[] {
  const buffering: Buffering = { gM2PerPh, parts: [], sentence: plan.basis }
  return wentOn(facts)
    .filter((dose) => dose.toward === toward)
    .map((dose) => ({
      at: dose.at,
      slug: dose.row.slug,
      gM2: dose.gM2,
      movedPh: fullEffect(dose, buffering).typical,
    }))
}

function dueWords(dueAt: number, at: number, zone: string): string {
  const day = dayText(dueAt, zone)
  if (dueAt > at) return `from ${day} on`
  return dueAt > at - DAY ? 'today' : `now; it has been due since ${day}`
}
