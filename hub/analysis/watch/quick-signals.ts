import { DRY_BELOW } from '../quality/dry-soil.ts'
import { hourOfDay } from './baseline.ts'
import { recentAt } from './recent.ts'
import type { Signal } from './take-row.ts'
import { type SpotState, type WatchState } from './watch-state.ts'

/** A bed that moved by this much need not wait for the sums, pH, and by so many of the spot's own noise. */
const AT_ONCE = { least: 1, perSd: 6 } as const
/** Two spots and at least half of those that can be compared. */
const LEAST_SPOTS = 2

/** Deviation of a spot now, NaN when it cannot be compared (set aside, dry, without a baseline). */
export interface Deviation {
  readonly spot: SpotState
  readonly residual: number
}

/** Spots of a bed that left their usual level together by a pH unit or more. Empty unless enough agree. */
export function togetherAway(deviations: readonly Deviation[]): Deviation[] {
  const known = deviations.filter(({ residual }) => Number.isFinite(residual))
  const comparable = new Set(known.map(({ spot }) => spot.spotId)).size
  for (const sign of [1, -1]) {
    const away = known.filter(
      ({ spot, residual }) =>
        sign * residual >=
        Math.max(AT_ONCE.least, AT_ONCE.perSd * (Number.isFinite(spot.sd) ? spot.sd : 0)),
    )
    const spots = new Set(away.map(({ spot }) => spot.spotId)).size
    if (spots >= LEAST_SPOTS && spots * 2 >= comparable) return away
  }
  return []
}

/** Signals of the hour that the sums have not given yet. */
export function quickSignals(state: WatchState, hour: number, given: readonly Signal[]): Signal[] {
  const residualOf = ({ recent }: SpotState): number => recentAt(recent, 'residual', hour)
  // Nearly every hour.
  if (!state.spots.some((spot) => Math.abs(residualOf(spot)) >= AT_ONCE.least)) return []
  const deviations = state.spots.map((spot) => {
    const isAside = spot.held !== null && !given.some((signal) => signal.spot === spot)
    const dry = recentAt(spot.recent, 'available', hour) < DRY_BELOW
    return { spot, residual: isAside || dry ? NaN : residualOf(spot) }
  })
  return togetherAway(deviations)
    .filter(({ spot }) => !given.some((signal) => signal.spot === spot))
    .map(({ spot, residual }) => {
      spot.sums.above = 0
      spot.sums.below = 0
      return { spot, sign: residual > 0 ? 1 : -1, onset: hour }
    })
}

export const usualAt = (spot: SpotState, hour: number): number => spot.base[hourOfDay(hour)]!
