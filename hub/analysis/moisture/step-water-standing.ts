import { DAY, HOUR } from '../../model/clock.ts'
import type { WaterStanding } from './water-standing.ts'

export const WATER_STATES = ['ample', 'moist', 'dry', 'waterlogged', 'unknown'] as const
export type WaterStateName = (typeof WATER_STATES)[number]

/**
 * When a bed changes its state. `Used`: share of the readily available water that is missing, Dr / RAW; `Excess` as
 * in `WaterStanding`. A state is left later than it is entered, and only when the new one has held for a while: no
 * flutter at an edge.
 *
 * - dry: water when Dr reaches RAW (FAO-56). Six hours, so that the daily swing of a sensor does not count.
 * - ample: half of the readily available water is there (judgement).
 * - waterlogged: soil that has not drained two days after: field capacity is what is left after 48 hours of
 *   drainage (FAO Soils Bulletin 79, Optimizing soil moisture for plant production, 2003).
 */
export const WATER_DEADBAND = {
  dry: { enterUsed: 1, leaveUsed: 0.8, enterAfterMs: 6 * HOUR, leaveAfterMs: HOUR },
  ample: { enterUsed: 0.5, leaveUsed: 0.6, enterAfterMs: HOUR, leaveAfterMs: 3 * HOUR },
  waterlogged: { enterExcess: 1, leaveExcess: 0.5, enterAfterMs: 2 * DAY, leaveAfterMs: 6 * HOUR },
} as const

/** What the bed is called, since when, and what it may become. Plain data. */
export interface WaterCourse {
  readonly state: WaterStateName
  /** Epoch ms. */
  readonly since: number
  /** The state that would be next, and since when it has shown itself without a break. */
  readonly turning: { readonly to: WaterStateName; readonly since: number } | null
  /** Since when more water is in the soil than drained soil holds; null while not. */
  readonly soakedSince: number | null
}

/**
 * The bed's state at one moment after another, ascending in time. The first moment decides at once; afterwards a
 * new state must have shown itself for its time. Without readings it is unknown at once.
 */
export function stepWaterStanding(previous: WaterCourse | null, now: WaterStanding): WaterCourse {
  const { at, missing, roots } = now
  if (missing === null) {
    if (previous?.state === 'unknown') return previous
    return { state: 'unknown', since: at, turning: null, soakedSince: null }
  }
  const soakedSince = soaking(previous?.soakedSince ?? null, now)
  const used = missing.value / roots.depletion
  const shows = showing(previous?.state ?? 'unknown', used, soakedSince, at)
  if (previous === null || previous.state === 'unknown') {
    return { state: shows, since: at, turning: null, soakedSince }
  }
  if (shows === previous.state) return { ...previous, turning: null, soakedSince }
  const turning = previous.turning?.to === shows ? previous.turning : { to: shows, since: at }
  if (at - turning.since < waitFor(previous.state, shows)) {
    return { ...previous, turning, soakedSince }
  }
  return { state: shows, since: at, turning: null, soakedSince }
}

function soaking(since: number | null, { at, excess }: WaterStanding): number | null {
  const { enterExcess, leaveExcess } = WATER_DEADBAND.waterlogged
  if (since === null) return excess > enterExcess ? at : null
  return excess < leaveExcess ? null : since
}

/** The state that these figures show, seen from the present one. */
function showing(
  present: WaterStateName,
  used: number,
  soakedSince: number | null,
  at: number,
): WaterStateName {
  const { dry, ample, waterlogged } = WATER_DEADBAND
  const undrained = soakedSince !== null && at - soakedSince >= waterlogged.enterAfterMs
  if (undrained) return 'waterlogged'
  if (used > (present === 'dry' ? dry.leaveUsed : dry.enterUsed)) return 'dry'
  return used < (present === 'ample' ? ample.leaveUsed : ample.enterUsed) ? 'ample' : 'moist'
}

/** The time that undrained soil must last is in `soakedSince` already. */
function waitFor(from: WaterStateName, to: WaterStateName): number {
  if (to === 'waterlogged' || to === 'unknown') return 0
  if (to === 'dry') return WATER_DEADBAND.dry.enterAfterMs
  if (from === 'waterlogged') return WATER_DEADBAND.waterlogged.leaveAfterMs
  if (from === 'dry') return WATER_DEADBAND.dry.leaveAfterMs
  return from === 'ample' ? WATER_DEADBAND.ample.leaveAfterMs : WATER_DEADBAND.ample.enterAfterMs
}
