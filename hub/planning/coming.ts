import type { Dosing } from '../agronomy/dosing.ts'
import { DAY } from '../model/clock.ts'
import type { Range } from '../model/plan.ts'
import type { BedFacts } from './bed-facts.ts'
import { type Buffering, bufferingOf } from './buffering.ts'
import { predictedShare } from './predict.ts'
import { type WentOn, wentOn } from './went-on.ts'

/** What treatments that are still at work are expected to do from now on, signed pH; lowest, likely, highest. */
export interface Coming {
  readonly low: number
  readonly value: number
  readonly high: number
  /** The treatments it comes from, oldest first. */
  readonly from: readonly WentOn[]
}

/** What a treatment of unknown amount does, pH; the same as the outlook takes. */
const USUAL: Range = { low: 0, typical: 0.4, high: 0.8 }

/** The rest of their effect; null when nothing is at work. */
export function comingOf(facts: BedFacts): Coming | null {
  const buffering = { raise: bufferingOf(facts, 'raise'), lower: bufferingOf(facts, 'lower') }
  let [low, value, high] = [0, 0, 0]
  const from: WentOn[] = []
  for (const dose of wentOn(facts)) {
    const { dosing, toward, at } = dose
    if (dosing === null) continue
    const full = fullEffect(dose, buffering[toward > 0 ? 'raise' : 'lower'])
    if (highestIsBehind(facts, dose)) continue
    const rest = restOf(full, dosing, (facts.at - at) / DAY)
    if (rest.high <= 0) continue
    value += toward * rest.typical
    low += toward > 0 ? rest.low : -rest.high
    high += toward > 0 ? rest.high : -rest.low
    from.push(dose)
  }
  return from.length === 0 ? null : { low, value, high, from }
}

/** The bed's own days show that the effect has been at its highest. */
function highestIsBehind({ study }: BedFacts, { entry }: WentOn): boolean {
  const answers = study?.effects.find(({ id }) => id === entry.id)?.answers ?? []
  return answers.some(
    ({ verdict, peakDays }) => verdict === 'effect' && (peakDays?.value ?? null) !== null,
  )
}

/** Size of what the dose does when all is done, pH. */
export function fullEffect({ gM2, strength }: WentOn, buffering: Buffering | null): Range {
  if (gM2 === null || strength === null || buffering === null) return USUAL
  const { low, typical, high } = buffering.gM2PerPh
  return {
    low: (gM2 * strength.low) / high,
    typical: (gM2 * strength.typical) / typical,
    high: (gM2 * strength.high) / low,
  }
}

/** After its highest point nothing more is to come; quick, usual and slow ones get there at different times. */
function restOf(full: Range, dosing: Dosing, days: number): Range {
  const share = predictedShare(dosing, days)
  const { peak } = dosing
  return {
    low: days < peak.low ? full.low * Math.max(0, 1 - share.high) : 0,
    typical: days < peak.typical ? full.typical * Math.max(0, 1 - share.typical) : 0,
    high: days < peak.high ? full.high * Math.max(0, 1 - share.low) : 0,
  }
}
