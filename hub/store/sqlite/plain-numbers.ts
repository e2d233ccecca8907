import { PLAIN_BOOT } from '../../model/reading.ts'
import { positionOf } from './block.ts'
import type { IntakeRow } from './open-intake.ts'
import type { OpenBlock, ProbeBlocks } from './probe-blocks.ts'

/** Where a reading stands. */
export interface Found {
  readonly open: OpenBlock
  readonly position: number
}

/**
 * Whether a plain number that is kept is the one that came again. `contradiction` compares uptime and values; two of
 * one second with one value are two readings all the same, unless they arrived at the same moment.
 */
export type SamePlain = (found: Found, row: IntakeRow) => boolean

/**
 * The hub numbers plain numbers itself, and cannot know which it has given while what is kept elsewhere is not read
 * back yet. So a number that is taken is never a fault of the probe: the reading gets the next free one, or is found
 * under the number it got the last time this row of the log was settled (a copy of the folder settles it once more).
 *
 * @param given numbers that rows settled along with this one got
 */
export function placePlain(
  held: Pick<ProbeBlocks, 'blockFor' | 'highest'>,
  row: IntakeRow,
  given: ReadonlySet<number>,
  same: SamePlain,
): Found | number {
  // A reading stands at its moment, or behind those that took it before.
  for (let t = Math.round(row.at); ; t++) {
    const open = held.blockFor(t)
    const { block } = open
    const position = positionOf(block, t)
    if (block.t[position] !== t) return held.highest(PLAIN_BOOT) + 1
    if (block.boot[position] !== PLAIN_BOOT || given.has(block.seq[position]!)) continue
    if (same({ open, position }, row)) return { open, position }
  }
}
