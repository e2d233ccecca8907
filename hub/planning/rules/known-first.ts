import { byGravity, isFree, tell } from '../told.ts'
import type { Rule } from './rule.ts'
import { say } from '../../words/say.ts'

/**
 * What the need itself still asks for, or waits for, holds for every material that would move pH. The gravest stands
 * for all: they are told with the need.
 */
export const knownFirst: Rule = ({ need, row }) => {
  if (row.direction !== 'raises' && row.direction !== 'lowers') return []
  const [gravest] = byGravity(need.told.filter((told) => !isFree([told])))
  if (gravest !== undefined) return [gravest]
  return need.verdict === 'cannot tell' || need.verdict === 'no band'
    ? [tell('ask', need.sentence, say`A dose without a known need is a guess.`, ['MEM'])]
    : []
}
