import { tell, type Told } from '../told.ts'
import type { Rule } from './rule.ts'
import { groundPortion, onGround } from '../../words/amount.ts'
import { say } from '../../words/say.ts'

const SLOW_TO_SINK: ReadonlySet<string> = new Set(['ground-limestone', 'dolomitic-limestone'])

/** Where plants stand nothing can be dug in: less of it, on the surface, and slower. */
export const standingPlants: Rule = ({ facts: { bed, soil }, row, dosing }) => {
  if (dosing === null || soil.planting === 'bare') return []
  const cap = dosing.caps.find(({ when }) => when === 'standing')
  const known = soil.planting === 'standing'
  const who = known
    ? say`Plants stand in ${bed.name}`
    : say`It is not said whether plants stand in ${bed.name}, so it is taken to be so`
  const told: Told[] = []
  if (cap !== undefined) {
    told.push(
      tell(
        'limit',
        cap.per === 'year'
          ? say`${who}: at most ${groundPortion(cap.gM2)} of ${row.name} ${onGround()} in a year, on the surface, watered in.`
          : say`${who}: at most ${groundPortion(cap.gM2)} of ${row.name} ${onGround()} at once, on the surface, watered in.`,
        say`Roots cannot be dug in, and what lies on top acts on the top first.`,
        [cap.source],
        { settle: 'soil form' },
      ),
    )
  }
  if (!known || !SLOW_TO_SINK.has(row.slug)) return told
  return [
    ...told,
    tell(
      'warn',
      say`${who}: ${row.name} on the surface takes years to move down. Scratch it in where roots allow.`,
      say`Lime hardly moves in soil by itself.`,
      ['RHS_LIME'],
    ),
  ]
}
