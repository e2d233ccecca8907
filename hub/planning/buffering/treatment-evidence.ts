import type { DoseEffect } from '../../analysis/amendment/dose-effect.ts'
import { Z } from '../../analysis/stats/distributions.ts'
import type { Range } from '../../model/plan.ts'
import { changeText } from '../amount-words.ts'
import { type WentOn, wentOn } from '../went-on.ts'
import { type Evidence, type EvidenceOf, OTHER_WAY_SD } from './evidence.ts'
import { logSpread, rangeOf, widened } from './log-range.ts'
import { massText } from '../../words/amount.ts'
import { dayText } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** Even a well measured effect is of one year and one way of working in: standard deviation of the logarithm; judgement. */
const YEAR_TO_YEAR_SD = 0.15

/** What treatments of this very bed did: amount times strength over the highest effect measured. */
export const treatmentEvidence: EvidenceOf = (facts, way): readonly Evidence[] => {
  const effects = facts.study?.effects ?? []
  const doses = new Map(wentOn(facts).map((dose) => [dose.entry.id, dose]))
  const seen = new Set<number>()
  return effects.flatMap(({ answers }) => {
    const answer = answers.find(tells)
    const first = answer?.ids[0]
    if (answer === undefined || first === undefined || seen.has(first)) return []
    seen.add(first)
    const portions = answer.ids.flatMap((id) => doses.get(id) ?? [])
    const peak = answer.peak!
    const toward = portions[0]?.toward
    if (portions.length !== answer.ids.length || toward !== Math.sign(peak.value!)) return []
    const carbonate = carbonateOf(portions)
    if (carbonate === null) return []
    const size = [Math.abs(peak.low!), Math.abs(peak.high!)].toSorted((a, b) => a - b)
    const measured = Math.abs(peak.value!)
    // The ends of the effect are of 95 %, those of the buffering of 90 %.
    const narrower = Z.two90 / Z.two95
    const perPh: Range = {
      low: (carbonate.typical / measured) * (measured / size[1]!) ** narrower,
      typical: carbonate.typical / measured,
      high: (carbonate.typical / measured) * (measured / size[0]!) ** narrower,
    }
    const strength = logSpread(carbonate)
    const own = logSpread(perPh)
    const range = widened(
      rangeOf({
        middle: own.middle,
        below: Math.hypot(own.below, strength.below),
        above: Math.hypot(own.above, strength.above),
      }),
      YEAR_TO_YEAR_SD,
    )
    const here = toward === (way === 'raise' ? 1 : -1)
    const { row, entry } = portions[0]!
    const amount = portions.reduce((sum, p) => sum + p.entry.amountG!, 0)
    return [
      {
        kind: 'treatments here' as const,
        gM2PerPh: range,
        counts: here ? range : widened(range, OTHER_WAY_SD),
        sentence: say`${massText(amount)} of ${row.name} on this bed from ${dayText(entry.at, facts.zone)} moved it by ${changeText(peak.value!)} pH at the most (${changeText(peak.low!)} to ${changeText(peak.high!)}).`,
        sources: ['CALC'],
      },
    ]
  })
}

/** A clear effect that has come to its highest point: before, the bed would seem to hold its pH too strongly. */
function tells({ verdict, peak, peakDays }: DoseEffect): boolean {
  return (
    verdict === 'effect' &&
    peak !== null &&
    peak.value !== null &&
    peak.low !== null &&
    peak.high !== null &&
    peak.low * peak.high > 0 &&
    peakDays !== null &&
    peakDays.value !== null
  )
}

/** All portions together as pure calcium carbonate, g/m2; null where an amount or a strength is missing. */
function carbonateOf(portions: readonly WentOn[]): Range | null {
  let [low, typical, high] = [0, 0, 0]
  for (const { gM2, strength } of portions) {
    if (gM2 === null || !(gM2 > 0) || strength === null) return null
    low += gM2 * strength.low
    typical += gM2 * strength.typical
    high += gM2 * strength.high
  }
  return { low, typical, high }
}
