import { HYDRATED_SHARE } from '../../agronomy/planning-limits.ts'
import { tell } from '../told.ts'
import type { Rule } from './rule.ts'
import { say } from '../../words/say.ts'

/** Hydrated lime is warned of and goes on at half; never among growing plants. */
export const hydratedLime: Rule = ({ facts: { bed, soil }, row }) => {
  if (row.slug !== 'hydrated-lime') return []
  return [
    ...(soil.planting === 'standing'
      ? [
          tell(
            'refuse',
            say`No hydrated lime on ${bed.name} while plants stand in it.`,
            say`It is caustic and burns what grows.`,
            ['OSU_HYDLIME', 'OSHA_CAOH2'],
            { settle: 'soil form' as const },
          ),
        ]
      : []),
    tell(
      'limit',
      say`At most half of what ground limestone would need, times ${HYDRATED_SHARE.value}: it is stronger and acts at once.`,
      say`There is no time to see how far it goes before it has gone too far.`,
      [HYDRATED_SHARE.source],
    ),
    tell(
      'warn',
      say`Hydrated lime is not advised for gardens: take ground limestone for ${bed.name} if you can wait.`,
      say`It burns skin, eyes and lungs, and overshoots easily.`,
      ['OSU_HYDLIME', 'OSHA_CAOH2'],
    ),
  ]
}
