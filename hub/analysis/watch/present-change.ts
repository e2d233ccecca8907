import { DAY, HOUR } from '../../model/clock.ts'
import { median } from '../stats/median.ts'
import { usualLevel } from './baseline.ts'
import { recentMedian } from './recent.ts'
import { type KeptEvent, type SpotState, keyOf } from './watch-state.ts'

/** A younger event is read from the latest hours, an older one from a whole day. */
const YOUNG_MS = 30 * HOUR

/**
 * What is left of an event: change of the spots that moved against their levels before it. In the first day from
 * the latest hours against the usual ones, later from whole days, in which the daily swing drops out. NaN when none
 * of them can tell.
 */
export function presentChange(
  event: KeptEvent,
  spots: readonly SpotState[],
  hour: number,
  openOf: (spot: SpotState) => number = () => NaN,
): number {
  const changes = event.spots.flatMap((move) => {
    if (!move.moved) return []
    const spot = spots.find((own) => keyOf(own) === keyOf(move))
    if (spot === undefined) return []
    return spotChange(event, move.before, spot, hour, openOf(spot))
  })
  return median(changes)
}

function spotChange(
  event: KeptEvent,
  before: number,
  spot: SpotState,
  hour: number,
  open: number,
): number {
  if (Number.isFinite(open)) return open + usualLevel(spot) - before
  if (hour - event.onset < YOUNG_MS) {
    const latest = recentMedian(
      spot.recent,
      'residual',
      Math.max(event.onset, hour - 3 * HOUR),
      hour,
    )
    return latest + usualLevel(spot) - before
  }
  return recentMedian(spot.recent, 'ph', hour - DAY + HOUR, hour) - before
}
