import { counted } from '../format.ts'
import type { SpotsNeeded } from './bed-days.ts'

/** How well the bed is known by its spots, and how many would do. */
export function spotsSentence(needed: SpotsNeeded, outlying: string | null): string {
  if (needed.spots === 0) return 'No spot of this bed has a level yet.'
  const now = `${counted(needed.spots, 'spot')} ${needed.spots === 1 ? 'tells' : 'tell'} the bed's pH to about ± ${needed.halfWidth.toFixed(2)}.`
  const more =
    needed.spots >= needed.needed
      ? ' That is as good as 0.2, which is enough to decide by.'
      : ` For ± 0.2 it would take ${counted(needed.needed, 'spot')}: measure the others by hand before a decision.`
  const odd =
    outlying === null || needed.outlying === null
      ? ''
      : ` ${outlying} lies ${Math.abs(needed.outlying.by).toFixed(1)} ${needed.outlying.by < 0 ? 'below' : 'above'} the others.`
  return `${now}${more}${odd}`
}
