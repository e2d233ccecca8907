import { BAND_TOLERANCE_PH } from '../../agronomy/planning-limits.ts'
import { bandText } from '../../analysis/format.ts'
import type { Need } from '../need.ts'
import { tell } from '../told.ts'
import { capital } from '../capital.ts'
import type { Rule } from './rule.ts'
import { say } from '../../words/say.ts'

/** Nothing goes on a bed that is where it should be, and nothing that leads away from it. */
export const rightWay: Rule = ({ need, row, facts: { bed } }) => {
  if (row.direction !== 'raises' && row.direction !== 'lowers') return []
  if (need.verdict === 'none') {
    return [
      tell(
        'refuse',
        say`${bed.name} needs nothing: it is ${whereItIs(need)}. Keep it as it is.`,
        say`Correcting what needs no correction is the commonest harm.`,
        [BAND_TOLERANCE_PH.source],
      ),
    ]
  }
  const wanted = need.verdict === 'raise' ? 'raises' : need.verdict === 'lower' ? 'lowers' : null
  if (wanted === null || row.direction === wanted) return []
  return [
    tell(
      'refuse',
      need.verdict === 'raise'
        ? say`${capital(row.name)} lowers pH; ${bed.name} has to go up.`
        : say`${capital(row.name)} raises pH; ${bed.name} has to go down.`,
      row.note,
      row.sources,
    ),
  ]
}

function whereItIs({ ph, band }: Need): string {
  if (ph === null || band === null) return say`where it should be`
  const out = Math.max(band.low - ph.value, ph.value - band.high)
  const its = say`its band ${bandText(band)}`
  if (out <= 0) return say`inside ${its}`
  return out <= BAND_TOLERANCE_PH.value
    ? say`as near to ${its} as can be told`
    : say`outside ${its}, but what went on is still at work`
}
