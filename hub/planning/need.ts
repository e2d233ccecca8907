import { bandFor } from '../analysis/band.ts'
import type { PhBand } from '../model/bed.ts'
import type { SampleMethod } from '../model/journal.ts'
import type { BedFacts } from './bed-facts.ts'
import { comingOf } from './coming.ts'
import { bandTold } from './need/band-told.ts'
import { comingTold } from './need/coming-told.ts'
import { confirmationOf, levelBySample, offsetGround, sampleGround } from './need/confirm-level.ts'
import { confirmationTold } from './need/confirmation-told.ts'
import { levelNow } from './need/level-now.ts'
import { levelTold } from './need/level-told.ts'
import { measuringTold, openChanges } from './need/measuring-told.ts'
import { needGrounds, needSentence, suddenSentence } from './need/need-words.ts'
import { aimOf, alongTheWay, nearerOf, standingOf } from './need/standing.ts'
import { byGravity, tell, type Told } from './told.ts'
import { say } from '../words/say.ts'

export const NEEDS = ['raise', 'lower', 'none', 'cannot tell', 'no band'] as const

/** Whether a bed needs its pH moved, and what has to be known before anything is put on. */
export interface Need {
  readonly verdict: (typeof NEEDS)[number]
  /** Median of the last valid days with its 95 % interval, pH, and how many days; null without any. */
  readonly ph: {
    readonly value: number
    readonly low: number
    readonly high: number
    readonly days: number
  } | null
  /** The level the way is reckoned from, pH: that of the days, or by the confirming sample where that needs less. */
  readonly from: number | null
  readonly band: PhBand | null
  /** Where to go, pH; null without a band. */
  readonly target: number | null
  /** Signed way from there to the target, pH, less what is still to come; 0 when nothing is needed. */
  readonly change: number
  /** What earlier treatments are still expected to do, signed pH; null when nothing is at work. */
  readonly coming: { readonly low: number; readonly value: number; readonly high: number } | null
  /** The newest sample by hand or laboratory that is young enough to confirm the probes; null without one. */
  readonly confirmation: {
    readonly entryId: number
    readonly at: number
    readonly ph: number
    readonly method: SampleMethod
    /** Sample minus bed value of those days after what is usual for the method, pH; null when not comparable. */
    readonly apart: number | null
  } | null
  /** What is missing before a dose, and what else speaks against one; a note of the usual order last. */
  readonly told: readonly Told[]
  readonly sentence: string
  readonly grounds: readonly string[]
}

/** @param target the gardener's own aim inside the band, pH; null: just inside the near edge */
export function needOf(facts: BedFacts, target: number | null): Need {
  const view = bandFor(facts.bed)
  const level = levelNow(facts)
  const confirmation = confirmationOf(facts)
  const coming = comingOf(facts)
  const standing = view.band === null ? null : standingOf(level, view.band, coming)
  // The days before a sudden change say nothing of what the bed needs now.
  const sudden = openChanges(facts).find((change) => change.standing === 'open') ?? null
  const verdict = standing === null ? 'no band' : sudden === null ? standing : 'cannot tell'
  const aim = view.band === null ? null : aimOf(view.band, level, target)
  const moves = verdict === 'raise' || verdict === 'lower'
  const way = verdict === 'raise' ? 1 : -1
  const bySample = level === null ? null : levelBySample(facts, level.value, confirmation)
  const from = level === null ? null : moves ? nearerOf(level.value, bySample, way) : level.value
  const change =
    moves && aim !== null && from !== null
      ? // Never minus zero.
        way * Math.max(0, way * (aim - from) - Math.abs(alongTheWay(coming, way))) + 0
      : 0
  const told = byGravity([
    ...bandTold(facts, view, target),
    ...levelTold(facts, level, verdict),
    ...measuringTold(facts),
    ...comingTold(facts, level, view.band, coming),
    ...confirmationTold(facts, view.band, verdict, confirmation, bySample),
  ])
  return {
    verdict,
    ph:
      level === null ? null : (({ value, low, high, days }) => ({ value, low, high, days }))(level),
    from,
    band: view.band,
    target: aim,
    change,
    coming: coming === null ? null : { low: coming.low, value: coming.value, high: coming.high },
    confirmation,
    told: [...told, usualOrder()],
    sentence:
      sudden !== null && view.band !== null
        ? suddenSentence(facts, sudden.event)
        : needSentence(facts, { verdict, level, from, band: view.band, aim, change, coming }),
    grounds: [
      view.sentence,
      ...needGrounds(facts, level, coming),
      ...sampleGround(facts, confirmation),
      ...offsetGround(facts),
    ],
  }
}

const usualOrder = (): Told =>
  tell(
    'tell',
    say`The usual order: measure, then bring the pH where it should be, then fertilise.`,
    say`What plants can take up of a fertiliser depends on the pH, and fertiliser itself moves the reading for weeks.`,
    ['MEM'],
  )
