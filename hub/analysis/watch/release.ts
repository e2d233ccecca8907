import { DAY, HOUR } from '../../model/clock.ts'
import { DRY_BELOW } from '../quality/dry-soil.ts'
import { rebase } from './baseline.ts'
import { recentLeast, recentMedian } from './recent.ts'
import type { SpotState, WatchState } from './watch-state.ts'

/** A spot that alarmed is set aside for at least so long. */
const LEAST_MS = DAY
/** Then it goes on as before when its last half day is back within this, pH ... */
const BACK = 0.25
/** ... or takes the new level for usual after so long; water is given time to come back by itself. */
const REBASE_MS = { water: 240 * HOUR, service: 30 * HOUR, other: 72 * HOUR } as const
/** The new level is that of the last two days (one after a visit). */
const LEVEL_MS = { service: DAY, other: 2 * DAY } as const

/**
 * Ends the time in which a spot is set aside after an alarm. Without the rebasing the aftermath of one event would
 * make most of the next alarms. While the soil is too dry nothing is decided.
 */
export function releaseHeld(state: WatchState, spot: SpotState, hour: number): void {
  const { held, recent } = spot
  if (held === null || hour - held.since < LEAST_MS) return
  const cause = state.events.find(({ id }) => id === held.eventId)?.cause
  if (Math.abs(recentMedian(recent, 'residual', hour - 11 * HOUR, hour)) < BACK) {
    spot.held = null
    return
  }
  if (recentLeast(recent, 'available', hour - 11 * HOUR, hour) < DRY_BELOW) return
  const wait = cause === 'water' || cause === 'service' ? REBASE_MS[cause] : REBASE_MS.other
  if (hour - held.since < wait) return
  const back = cause === 'service' ? LEVEL_MS.service : LEVEL_MS.other
  const shift = recentMedian(recent, 'residual', hour - back + HOUR, hour)
  if (Number.isFinite(shift)) rebase(spot, shift)
  spot.held = null
}
