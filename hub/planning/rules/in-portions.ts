import { PER_APPLICATION_PH, PER_YEAR_PH } from '../../agronomy/planning-limits.ts'
import { sizeText } from '../amount-words.ts'
import { capsOn, stepLimits } from '../limits.ts'
import { tell, type Told } from '../told.ts'
import type { Rule } from './rule.ts'
import { groundPortion, onGround } from '../../words/amount.ts'
import { say } from '../../words/say.ts'

/** A cap that reaches less than this share of the way in a year is worth a word. */
const WORTH_A_WORD = 0.9

/** More than half a pH goes in portions; and how far a year's worth of the product goes at all. */
export const inPortions: Rule = ({ facts, need, buffering, row, dosing }) => {
  if (dosing === null || need.change === 0) return []
  const { bed } = facts
  const { likely, year } = stepLimits(row.slug)
  const way = Math.abs(need.change)
  const told: Told[] = []
  if (way > likely) {
    told.push(
      tell(
        'limit',
        say`${bed.name} has ${sizeText(way)} to go: in portions of at most ${sizeText(likely)} each and ${sizeText(year)} in a year, measured in between.`,
        say`Soil life and roots bear a slow change; a quick one upsets them for months, and what overshoots takes years to undo.`,
        [PER_YEAR_PH.source, 'BARCENAS2016', PER_APPLICATION_PH.source],
      ),
    )
  }
  const [cap] = capsOn(facts, dosing, facts.at)
    .filter(({ per }) => per === 'year')
    .toSorted((a, b) => a.gM2 - b.gM2)
  if (cap === undefined || buffering === null) return told
  const reach = (cap.gM2 * dosing.acts.typical) / buffering.gM2PerPh.typical
  if (reach >= WORTH_A_WORD * Math.min(way, year)) return told
  told.push(
    tell(
      'limit',
      cap.when === 'standing'
        ? say`What may go on in a year where plants stand is about ${sizeText(reach)} of the ${sizeText(way)} here.`
        : say`At most ${groundPortion(cap.gM2)} of ${row.name} ${onGround()} may go on in a year: here that is about ${sizeText(reach)} of the ${sizeText(way)}.`,
      say`More of it in a year does harm, however far the bed has to go.`,
      [cap.source],
    ),
  )
  return told
}
