import { BAND_TOLERANCE_PH } from '../../agronomy/planning-limits.ts'
import { bandText } from '../../analysis/format.ts'
import { tell } from '../told.ts'
import { capital } from '../capital.ts'
import type { Rule } from './rule.ts'

/** Nothing goes on a bed that is where it should be, and nothing that leads away from it. */
export const rightWay: Rule = ({ need, row, facts: { bed } }) => {
  if (row.direction !== 'raises' && row.direction !== 'lowers') return []
  if (need.verdict === 'none') {
    return [
      tell(
        'refuse',
        `${bed.name} needs nothing: it is inside its band${need.band === null ? '' : ` ${bandText(need.band)}`}, near enough to it, or on its way. Keep it as it is.`,
        'Correcting what needs no correction is the commonest harm.',
        [BAND_TOLERANCE_PH.source],
      ),
    ]
  }
  const wanted = need.verdict === 'raise' ? 'raises' : need.verdict === 'lower' ? 'lowers' : null
  if (wanted === null || row.direction === wanted) return []
  return [
    tell(
      'refuse',
      `${capital(row.name)} ${row.direction} pH; ${bed.name} has to go ${need.verdict === 'raise' ? 'up' : 'down'}.`,
      row.note,
      row.sources,
    ),
  ]
}
