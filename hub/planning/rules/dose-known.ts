import { RATE_DENSITY, RATE_DEPTH_M } from '../../agronomy/soil-rates.ts'
import { tell } from '../told.ts'
import { capital } from '../capital.ts'
import { soilMass } from '../buffering/soil-mass.ts'
import type { Case, Rule } from './rule.ts'
import { depthText } from '../../words/amount.ts'
import { fixed } from '../../words/figure.ts'
import { said, say, units } from '../../words/say.ts'

/** No dose without depth, area and a buffering, and none of what has no strength. */
export const doseKnown: Rule = (of) => {
  const {
    facts: { bed },
    buffering,
    row,
    dosing,
  } = of
  if (row.direction !== 'raises' && row.direction !== 'lowers') return []
  if (dosing === null) {
    return [
      tell(
        'refuse',
        say`For ${row.name} no dose can be reckoned: how much acid is in it differs too much. Fill containers or a bed with a mix you have measured instead.`,
        row.note,
        row.sources,
      ),
    ]
  }
  if (!(bed.areaM2 > 0) || !(bed.depthM > 0)) {
    return [
      tell(
        'ask',
        say`How large ${bed.name} is and how deep it is worked has to be known first.`,
        say`A dose is reckoned on the soil that is there.`,
        ['MEM'],
        { settle: 'bed form' },
      ),
    ]
  }
  if (buffering !== null) return byWeight(of)
  return [
    tell(
      'ask',
      say`How strongly ${bed.name} holds its pH is not known: no table covers ${said(bed.texture)}. Make a jar test, ask a laboratory for its lime requirement, or go by what an earlier treatment did here.`,
      say`${capital(said(bed.texture))} is no soil that the tables of extension services know; its dose may be off manyfold.`,
      ['MEM'],
      { settle: 'jar test' },
    ),
  ]
}

/** A density that differs from what tables take a soil to have by more than this is worth a word. */
const NOTABLE = 0.1

/** Depth and density other than those of the tables change the dose as they change the soil that is there. */
function byWeight({ facts }: Case): ReturnType<Rule> {
  const { bed, soil } = facts
  const depth = bed.depthM / RATE_DEPTH_M
  const mass = soilMass(facts)
  const density = mass.density.typical / RATE_DENSITY
  const by = depth * density
  const told =
    Math.abs(by - 1) <= NOTABLE
      ? []
      : [
          tell(
            'tell',
            say`${bed.name} is worked ${depthText(bed.depthM)} deep with ${mass.words}: ${fixed(by, 2)} times the soil that tables are for, and as many times the dose.`,
            say`What has to be moved is the mass of soil, not its surface.`,
            ['CALC'],
            { settle: 'bed form' as const },
          ),
        ]
  return soil.bulkDensity !== null || bed.texture !== 'raised-bed mix'
    ? told
    : [
        ...told,
        tell(
          'tell',
          units() === 'us'
            ? say`Weigh a quart of dry soil from ${bed.name} and write its density down: fill of raised beds weighs from 13 to 30 oz a quart, and the dose goes with it.`
            : say`Weigh a litre of dry soil from ${bed.name} and write its density down: fill of raised beds weighs from 400 to 900 g a litre, and the dose goes with it.`,
          say`Light fill holds less soil in the same depth.`,
          ['MEM'],
          { settle: 'soil form' },
        ),
      ]
}
