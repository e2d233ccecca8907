import type { BedLook } from '../../analysis/assessment.ts'
import { say } from '../../words/say.ts'
import type { Verdict } from './rule.ts'

type Void = Extract<Verdict, { readonly status: 'void' }>

/** Without a probe in the bed nothing can be said of its soil ever again. Null: there is one. */
export function withoutProbes({ spots }: BedLook): Void | null {
  if (spots.length > 0) return null
  return {
    status: 'void',
    sentence: say`No probe is left in the bed, so it can no longer be followed.`,
  }
}

/** The same of a bed that has nothing to be held against any more: its crops or its band were taken away. */
export function withoutBand(look: BedLook): Void | null {
  if (look.hasBand) return withoutProbes(look)
  return { status: 'void', sentence: say`The bed has no pH band any more to be held against.` }
}
