import { tell } from '../told.ts'
import type { Rule } from './rule.ts'
import { say } from '../../words/say.ts'

/** Dolomitic limestone brings magnesium, which is good only where it is missing. */
export const magnesium: Rule = ({ facts: { bed }, row }) =>
  row.slug === 'dolomitic-limestone'
    ? [
        tell(
          'tell',
          say`Dolomitic limestone brings magnesium along: take it for ${bed.name} where a soil test shows little of it, ground limestone otherwise.`,
          say`Too much magnesium keeps plants from taking up potassium and calcium.`,
          ['MEM'],
        ),
      ]
    : []
