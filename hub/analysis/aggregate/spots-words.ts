import { counted } from '../format.ts'
import { type SpotsNeeded, WANTED_HALF_WIDTH } from './bed-days.ts'

/** How well the bed is known by its spots, and how many would do. */
export function spotsSentence(needed: SpotsNeeded, outlying: string | null): string {
  if (needed.spots === 0) return 'No spot of this bed has a level yet.'
  const now = `${counted(needed.spots, 'spot')} ${needed.spots === 1 ? 'tells' : 'tell'} the bed's pH to about ± ${needed.halfWidth.toFixed(2)}.`
  // Judged by what is shown, so that '± 0.20' is never called too little for ± 0.2.
  const more =
    Number(needed.halfWidth.toFixed(2)) <= WANTED_HALF_WIDTH
      ? ` That is ${needed.halfWidth < WANTED_HALF_WIDTH - 0.005 ? 'better than' : 'as good as'} ${WANTED_HALF_WIDTH}, which is enough to decide by.`
      : needed.spots >= needed.needed
        ? ` Some of them were silent for part of the month; with all of them there it would be ± ${WANTED_HALF_WIDTH} or better.`
        : ` For ± ${WANTED_HALF_WIDTH} it would take ${counted(needed.needed, 'spot')}: measure the others by hand before a decision.`
  const odd =
    outlying === null || needed.outlying === null
      ? ''
      : ` ${outlying} lies ${Math.abs(needed.outlying.by).toFixed(1)} ${needed.outlying.by < 0 ? 'below' : 'above'} the others.`
  return `${now}${more}${odd}`
}
