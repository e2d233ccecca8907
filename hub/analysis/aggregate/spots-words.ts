import { type SpotsNeeded, WANTED_HALF_WIDTH } from './bed-days.ts'
import { fixed, counted } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** How well the bed is known by its spots, and how many would do. */
export function spotsSentence(needed: SpotsNeeded, outlying: string | null): string {
  if (needed.spots === 0) return say`No spot of this bed has a level yet.`
  const now =
    needed.spots === 1
      ? say`${counted(needed.spots, 'spot')} tells the bed's pH to about ± ${fixed(needed.halfWidth, 2)}.`
      : say`${counted(needed.spots, 'spot')} tell the bed's pH to about ± ${fixed(needed.halfWidth, 2)}.`
  // Judged by what is shown, so that '± 0.20' is never called too little for ± 0.2.
  const more =
    Number(needed.halfWidth.toFixed(2)) <= WANTED_HALF_WIDTH
      ? needed.halfWidth < WANTED_HALF_WIDTH - 0.005
        ? ` ${say`That is better than ${WANTED_HALF_WIDTH}, which is enough to decide by.`}`
        : ` ${say`That is as good as ${WANTED_HALF_WIDTH}, which is enough to decide by.`}`
      : needed.spots >= needed.needed
        ? ` ${say`Some of them were silent for part of the month; with all of them there it would be ± ${WANTED_HALF_WIDTH} or better.`}`
        : ` ${say`For ± ${WANTED_HALF_WIDTH} it would take ${counted(needed.needed, 'spot')}: measure the others by hand before a decision.`}`
  const odd =
    outlying === null || needed.outlying === null
      ? ''
      : needed.outlying.by < 0
        ? ` ${say`${outlying} lies ${fixed(Math.abs(needed.outlying.by), 1)} below the others.`}`
        : ` ${say`${outlying} lies ${fixed(Math.abs(needed.outlying.by), 1)} above the others.`}`
  return `${now}${more}${odd}`
}
