import { DAY } from '../../model/clock.ts'
import { median } from '../stats/median.ts'
import type { Level } from './handled.ts'
import type { SpotLevels } from './spot-levels.ts'

/** What one spot did: from a level, by a change. */
export interface SpotChange {
  readonly levels: SpotLevels
  readonly change: number
}

/**
 * When a change began, epoch ms: the median over the spots that moved of the first reading after which each
 * stayed beyond half of its change, or beyond a quarter when it went slowly (more than a day in between).
 */
export function onset(moved: readonly SpotChange[], at: number): number {
  return median(moved.map((spot) => spotOnset(spot, at)))
}

function spotOnset({ levels, change }: SpotChange, at: number): number {
  const from = levels.present - change
  const half = stayedBeyond(levels, from, change, 0.5, at)
  const quarter = stayedBeyond(levels, from, change, 0.25, at)
  return half - quarter > DAY ? quarter : half
}

function stayedBeyond(
  { readings, hours }: SpotLevels,
  from: number,
  change: number,
  share: number,
  at: number,
): number {
  const near = (value: number): boolean => (value - from) / change < share
  return crossing(readings, near) ?? crossing(hours, near) ?? hours.time[0] ?? at
}

/** Time of the first value after the last two in a row that were still near; null when none were. */
function crossing(level: Level, near: (value: number) => boolean): number | null {
  for (let i = level.time.length - 2; i >= 0; i--) {
    if (near(level.value[i]!) && near(level.value[i + 1]!)) {
      return level.time[i + 2] ?? level.time[i + 1]!
    }
  }
  return null
}
