import { PER_APPLICATION_PH, PER_YEAR_PH } from '../../agronomy/planning-limits.ts'
import { sizeText } from '../amount-words.ts'
import { stepLimits } from '../limits.ts'
import { tell } from '../told.ts'
import type { Rule } from './rule.ts'

/** More than half a pH goes in portions. */
export const inPortions: Rule = ({ facts: { bed }, need, row, dosing }) => {
  if (dosing === null) return []
  const { likely, year } = stepLimits(row.slug)
  if (Math.abs(need.change) <= likely) return []
  return [
    tell(
      'limit',
      `${bed.name} has ${sizeText(need.change)} to go: in portions of at most ${sizeText(likely)} each and ${sizeText(year)} in a year, measured in between.`,
      'Soil life and roots bear a slow change; a quick one upsets them for months, and what overshoots takes years to undo.',
      [PER_YEAR_PH.source, 'BARCENAS2016', PER_APPLICATION_PH.source],
    ),
  ]
}
