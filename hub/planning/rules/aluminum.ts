import { tell } from '../told.ts'
import type { Rule } from './rule.ts'
import { say } from '../../words/say.ts'

/** Aluminum sulfate is kept to hydrangeas. */
export const aluminum: Rule = ({ facts: { bed }, row }) => {
  if (row.slug !== 'aluminum-sulfate') return []
  const only = bed.crops.length > 0 && bed.crops.every((slug) => slug.startsWith('hydrangea'))
  return only
    ? []
    : [
        tell(
          'refuse',
          say`No aluminum sulfate on ${bed.name}: it is for beds that hold nothing but hydrangeas.`,
          say`Aluminum poisons roots, and the crop takes it up.`,
          ['ILL_ALUM'],
        ),
      ]
}
