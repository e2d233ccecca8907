import { tell } from '../told.ts'
import { capital } from './no-means.ts'
import type { Rule } from './rule.ts'

/** No dose without depth, area and a buffering, and none of what has no strength. */
export const doseKnown: Rule = ({ facts: { bed }, buffering, row, dosing }) => {
  if (row.direction !== 'raises' && row.direction !== 'lowers') return []
  if (dosing === null) {
    return [
      tell(
        'refuse',
        `For ${row.name} no dose can be reckoned: how much acid is in it differs too much. Fill containers or a bed with a mix you have measured instead.`,
        row.note,
        row.sources,
      ),
    ]
  }
  if (!(bed.areaM2 > 0) || !(bed.depthM > 0)) {
    return [
      tell(
        'ask',
        `How large ${bed.name} is and how deep it is worked has to be known first.`,
        'A dose is reckoned on the soil that is there.',
        ['MEM'],
        { settle: 'bed form' },
      ),
    ]
  }
  if (buffering !== null) return []
  return [
    tell(
      'ask',
      `How strongly ${bed.name} holds its pH is not known: no table covers ${bed.texture}. Make a jar test, ask a laboratory for its lime requirement, or go by what an earlier treatment did here.`,
      `${capital(bed.texture)} is no soil that the tables of extension services know; its dose may be off manyfold.`,
      ['MEM'],
      { settle: 'jar test' },
    ),
  ]
}
