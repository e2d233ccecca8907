import { median } from '../stats/median.ts'
import { dryDownOf } from './dry-down.ts'
import type { WaterState } from './water-state.ts'

/** How fast a spot loses moisture, per day on the probe's own scale. */
export interface DryingRate {
  readonly perDay: number
  /** Standard error. */
  readonly se: number
  /** From the dry-down that is going on, or from earlier ones. */
  readonly from: 'now' | 'before'
}

/** One earlier dry-down tells the next only this well: weather and growth differ (judgement, share of the rate). */
const LEAST_DOUBT_OF_BEFORE = 0.3

/** The present rate; as long as there is none the usual one of earlier dry-downs; null when neither dries. */
export function dryingRate(state: WaterState, at: number): DryingRate | null {
  const now = dryDownOf(state, at)
  if (now !== null) {
    return now.perDay > 0 ? { perDay: now.perDay, se: now.perDaySe, from: 'now' } : null
  }
  const before = state.dryDowns.flatMap(({ perDay }) => (perDay > 0 ? perDay : []))
  if (before.length === 0) return null
  const perDay = median(before)
  const apart = 1.4826 * median(before.map((rate) => Math.abs(rate - perDay)))
  return { perDay, se: Math.max(apart, LEAST_DOUBT_OF_BEFORE * perDay), from: 'before' }
}
