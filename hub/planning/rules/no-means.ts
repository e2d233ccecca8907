import { capital } from '../capital.ts'
import { tell } from '../told.ts'
import type { Rule } from './rule.ts'
import { say } from '../../words/say.ts'

/** What leaves pH alone, and what may go either way, is no means to move it. */
export const noMeans: Rule = ({ row, facts: { bed } }) => {
  if (row.direction === 'none') {
    return [
      tell(
        'refuse',
        say`${capital(row.name)} would not move the pH of ${bed.name}.`,
        row.note,
        row.sources,
      ),
    ]
  }
  if (row.direction === 'unclear') {
    return [
      tell(
        'refuse',
        say`For ${row.name} no dose can be told: which way and how far it moves the pH of ${bed.name} is not known.`,
        row.note,
        row.sources,
      ),
    ]
  }
  return []
}
