import { DAY, HOUR } from '../../model/clock.ts'
import { DRY_BELOW } from '../quality/dry-soil.ts'
import { rebase, usualLevel } from './baseline.ts'
import type { Cause } from './event.ts'
import { shiftLevels } from './find-ramps.ts'
import { moistMedian, recentLeast, recentMedian } from './recent.ts'
import type { SpotState, WatchState } from './watch-state.ts'

/** A spot that alarmed is set aside for at least so long. */
const LEAST_MS = DAY
/** Then it goes on as before when its last half day is back within this, pH ... */
const BACK = 0.25
/** ... or takes the new level for usual after so long; water is given time to come back by itself. */
const REBASE_MS = { water: 240 * HOUR, service: 30 * HOUR, other: 72 * HOUR } as const
/** The new level is that of the last two days (one after a visit), from so many moist hours at least. */
const LEVEL_MS = { service: DAY, other: 2 * DAY } as const
const LEVEL_HOURS = 12
/** Moist for so long: contact is good again. */
const MOIST_MS = 6 * HOUR

/**
 * Ends the time in which a spot is set aside after an alarm. Without the rebasing the aftermath of one event would
 * make most of the next alarms. While the soil is too dry nothing is decided, and poor contact ends with it: what
 * was usual before the dry spell is usual after it.
 */
export function releaseHeld(state: WatchState, spot: SpotState, hour: number): void {
  const { held, recent } = spot
  if (held === null) return
  if (Number.isNaN(usualLevel(spot))) {
    // Nothing to compare with any more: it is learned anew.
    spot.held = null
    return
  }
  const event = state.events.findLast(({ id }) => id === held.eventId)
  const cause = event?.cause
  if (cause === 'dry contact') {
    const least = recentLeast(recent, 'available', hour - MOIST_MS + HOUR, hour)
    if (least >= DRY_BELOW) {
      spot.held = null
      return
    }
  }
  // What a visit did to the level is found out first.
  if (hour - held.since < LEAST_MS || spot.settling !== null) return
  if (Math.abs(recentMedian(recent, 'residual', hour - 11 * HOUR, hour)) < BACK) {
    spot.held = null
    return
  }
  if (recentMedian(recent, 'available', hour - 11 * HOUR, hour) < DRY_BELOW) return
  const wait = cause === 'water' || cause === 'service' ? REBASE_MS[cause] : REBASE_MS.other
  if (hour - held.since < wait) return
  const back = cause === 'service' ? LEVEL_MS.service : LEVEL_MS.other
  const shift = moistMedian(recent, 'residual', hour - back + HOUR, hour, LEVEL_HOURS)
  if (Number.isNaN(shift)) return
  rebase(spot, shift)
  shiftLevels(spot, event?.onset ?? held.since, shift)
  spot.held = null
}

export function causeOf(state: WatchState, eventId: string): Cause | undefined {
  return state.events.findLast(({ id }) => id === eventId)?.cause
}
