import {
  FREE_LIME_FLOOR_PH,
  FREE_LIME_PH,
  FREE_LIME_SULFUR_G_M2,
} from '../../agronomy/planning-limits.ts'
import { ph1 } from '../../analysis/format.ts'
import { tell } from '../told.ts'
import type { Rule } from './rule.ts'
import { groundMass, onGround } from '../../words/amount.ts'
import { dayText } from '../../words/figure.ts'
import { said, say, toSay } from '../../words/say.ts'

const INSTEAD = toSay('Grow what needs acid soil in containers or in a bed filled with a peat mix.')
const swallows = (): string =>
  say`Free lime swallows acid first: ${groundMass(FREE_LIME_SULFUR_G_M2.value)} of sulfur ${onGround()} for each 1 % of it, and pH still stays near ${ph1(FREE_LIME_FLOOR_PH.value)}.`

/** Nothing acid against free lime: above 7.5, where vinegar fizzes, and where hard water brings more of it. */
export const freeLime: Rule = ({ facts, need, row }) => {
  if (row.direction !== 'lowers') return []
  const { bed, soil, tests, at, zone } = facts
  const fizz = tests
    .filter((test) => test.kind === 'vinegar test' && test.at <= at)
    .toSorted((a, b) => a.at - b.at)
    .at(-1)
  if (fizz?.kind === 'vinegar test' && fizz.fizzes) {
    return [
      tell(
        'refuse',
        say`The soil of ${bed.name} fizzed under vinegar on ${dayText(fizz.at, zone)}: it holds free lime, and lowering it will not work. ${said(INSTEAD)}`,
        swallows(),
        [FREE_LIME_SULFUR_G_M2.source, 'RHS_ACID'],
        { settle: 'vinegar test' },
      ),
    ]
  }
  const highest = Math.max(need.ph?.value ?? -Infinity, need.confirmation?.ph ?? -Infinity)
  if (highest > FREE_LIME_PH.value) {
    return [
      tell(
        'refuse',
        say`${bed.name} lies above pH ${ph1(FREE_LIME_PH.value)} (${ph1(highest)}): lowering it will hardly work. ${said(INSTEAD)} A vinegar test shows whether there is free lime.`,
        swallows(),
        [FREE_LIME_PH.source, FREE_LIME_SULFUR_G_M2.source],
        { settle: 'vinegar test' },
      ),
    ]
  }
  if (soil.hardWater === true && fizz === undefined) {
    return [
      tell(
        'ask',
        say`${bed.name} gets hard water, which is lime: put vinegar on a spoon of its dry soil first and write down whether it fizzes.`,
        swallows(),
        ['RHS_ACID', FREE_LIME_SULFUR_G_M2.source],
        { settle: 'vinegar test' },
      ),
    ]
  }
  if (soil.hardWater === true) {
    return [
      tell(
        'warn',
        say`${bed.name} gets hard water, which is lime: it will climb again sooner than the tables say. Rain water keeps it down.`,
        say`Every watering brings back some of what the acid took away.`,
        ['AGRO_S'],
      ),
    ]
  }
  return soil.hardWater === null
    ? [
        tell(
          'tell',
          say`Say whether ${bed.name} gets hard water: it brings lime with every watering.`,
          say`Every watering would bring back some of what the acid took away.`,
          ['AGRO_S'],
          { settle: 'soil form' },
        ),
      ]
    : []
}
