import { amendmentOf } from '../agronomy/amendments.ts'
import type { DoseAnswers } from '../analysis/amendment/amendment-answers.ts'
import type { DoseEffect, EffectQuestion } from '../analysis/amendment/dose-effect.ts'
import type { BedFacts } from './bed-facts.ts'
import type { Interval3 } from './interval3.ts'
import { nextDue } from './review/next-due.ts'
import { treatmentSentence } from './review/treatment-words.ts'
import { phMonths } from './review/ph-months.ts'
import { counted } from '../words/figure.ts'
import { say, toSay } from '../words/say.ts'

/** One treatment as the review tells it. */
export interface ReviewedTreatment {
  /** Journal entries: several where it went on in portions. */
  readonly entryIds: readonly number[]
  readonly at: number
  readonly material: string
  /** All portions together, g; null when it was not written down. */
  readonly amountG: number | null
  readonly question: EffectQuestion
  readonly effect: DoseEffect | null
  /** pH times months gained so far, with its 95 % interval; what went the wrong way counts as negative. */
  readonly phMonths: Interval3 | null
  /** Money for one pH over one month; null without price, amount or effect. */
  readonly cost: {
    readonly value: number
    readonly low: number
    readonly high: number | null
    readonly currency: string
  } | null
  readonly worked: 'yes' | 'no' | 'not known'
  readonly sentence: string
}

/** A bed's treatments looked back on. */
export interface BedReview {
  readonly bedId: number
  readonly bed: string
  readonly treatments: readonly ReviewedTreatment[]
  /** When the bed is expected to need something again, epoch ms; ends are null where they cannot be told. */
  readonly nextDue: {
    readonly typical: number | null
    readonly earliest: number | null
    readonly latest: number | null
  } | null
  readonly nextSentence: string
  readonly sentence: string
}

/** A larger effect than this matters to a crop, pH; half of what one portion may do. */
const MATTERS_PH = 0.25

/** Every treatment of the bed looked back on, oldest first, and when it will need something again. */
export function reviewBed(facts: BedFacts): BedReview {
  const { bed } = facts
  const treatments = answersOf(facts).flatMap((dose) => reviewDose(facts, dose) ?? [])
  return {
    bedId: bed.id,
    bed: bed.name,
    treatments,
    ...nextDue(facts),
    sentence: sentenceOf(bed.name, treatments),
  }
}

/** What the study says of each treatment; the journal's alone before the bed was gone through. */
function answersOf({ study, journal }: BedFacts): readonly DoseAnswers[] {
  const known = study?.effects ?? []
  const told = new Set(known.map(({ id }) => id))
  const rest = journal.flatMap((e): DoseAnswers[] =>
    e.kind === 'treatment' && !told.has(e.id)
      ? [{ id: e.id, at: e.at, material: e.material ?? toSay('a treatment'), answers: [] }]
      : [],
  )
  return [...known, ...rest].toSorted((a, b) => a.at - b.at || a.id - b.id)
}

/** Null for a later portion of a treatment: the first one speaks for all. */
function reviewDose(facts: BedFacts, dose: DoseAnswers): ReviewedTreatment | null {
  const effect = answerOf(dose.answers)
  const entryIds = effect?.ids ?? [dose.id]
  if (entryIds[0] !== dose.id) return null
  const row = amendmentOf(dose.material)
  const amountG = amountOf(facts, entryIds)
  // What nobody knows the way of counts towards where it went.
  const toward =
    row?.direction === 'lowers'
      ? -1
      : row?.direction === 'raises'
        ? 1
        : (effect?.peak?.value ?? 0) < 0
          ? -1
          : 1
  const months =
    effect === null || effect.verdict !== 'effect' ? null : phMonths(effect, toward, facts.at)
  const cost = costOf(facts, row?.slug ?? null, amountG, months)
  return {
    entryIds,
    at: dose.at,
    material: dose.material,
    amountG,
    question: effect?.question ?? 'above where it was',
    effect,
    phMonths: months,
    cost,
    worked: workedOf(effect, row?.direction ?? null),
    sentence: treatmentSentence(dose.material, effect, months, cost),
  }
}

/** Against untreated beds where that could be answered, else against where the bed was. */
function answerOf(answers: readonly DoseEffect[]): DoseEffect | null {
  const of = (question: EffectQuestion) => answers.find((one) => one.question === question) ?? null
  const held = of('advantage over untreated')
  return held !== null && held.verdict !== 'insufficient'
    ? held
    : (of('above where it was') ?? held)
}

/** All portions together; null when one was not written down. */
function amountOf({ journal }: BedFacts, ids: readonly number[]): number | null {
  let sum = 0
  for (const id of ids) {
    const amount = journal.find((e) => e.id === id)?.amountG ?? null
    if (amount === null) return null
    sum += amount
  }
  return sum
}

function costOf(
  { settings }: BedFacts,
  slug: string | null,
  amountG: number | null,
  months: Interval3 | null,
): ReviewedTreatment['cost'] {
  const price = settings.prices.find(({ material }) => material === slug)
  if (price === undefined || settings.currency === null) return null
  if (amountG === null || months === null || months.value <= 0) return null
  const spent = (price.perKg * amountG) / 1000
  return {
    value: spent / months.value,
    low: spent / months.high,
    high: months.low > 0 ? spent / months.low : null,
    currency: settings.currency,
  }
}

function workedOf(
  effect: DoseEffect | null,
  direction: 'raises' | 'lowers' | 'none' | 'unclear' | null,
): ReviewedTreatment['worked'] {
  if (effect === null || effect.verdict === 'insufficient') return 'not known'
  // What leaves pH alone, or may go both ways, was not put on to move it.
  if (direction === 'none' || direction === 'unclear') return 'not known'
  if (effect.verdict === 'no measurable effect') {
    // One that matters could have hidden in the doubt.
    return (effect.notLargerThan ?? Infinity) <= MATTERS_PH ? 'no' : 'not known'
  }
  if (direction === null) return 'not known'
  return (effect.peak?.value ?? 0) > 0 === (direction === 'raises') ? 'yes' : 'no'
}

function sentenceOf(bed: string, treatments: readonly ReviewedTreatment[]): string {
  if (treatments.length === 0) return say`Nothing was put on ${bed} so far.`
  const worked = treatments.filter((t) => t.worked === 'yes').length
  const not = treatments.filter((t) => t.worked === 'no').length
  const aside = treatments.filter((t) => amendmentOf(t.material)?.direction === 'none').length
  const open = treatments.length - worked - not - aside
  const parts = [
    worked > 0 ? say`${worked} worked` : '',
    not > 0 ? say`${not} did nothing that could be measured, or the opposite` : '',
    aside > 0
      ? aside === 1
        ? say`${aside} is known to leave pH alone`
        : say`${aside} are known to leave pH alone`
      : '',
    open > 0 ? say`whether ${open} worked cannot be said` : '',
  ].filter((part) => part !== '')
  return `${bed}: ${counted(treatments.length, 'treatment')}; ${parts.join(', ')}.`
}
