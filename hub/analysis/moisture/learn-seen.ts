import { CLASSES, CLASS_WIDTH, type WaterState } from './water-state.ts'

/** Hours before the extremes that were seen mean anything, and how often they are drawn anew. */
const ENOUGH_HOURS = 48
const RENEW_HOURS = 24
/** The lowest is believed when it was seen through this much of a season: a moist month has no low. */
const LOW_HOURS = 14 * 24
const YEAR_HOURS = 365 * 24

/** Counts an hour's moisture among all that was seen, and draws the percentiles from it once a day. */
export function learnSeen(state: WaterState, moisture: number): void {
  const { seen } = state
  seen[Math.min(CLASSES - 1, Math.floor(moisture / CLASS_WIDTH))]!++
  state.seenHours++
  if (state.seenHours < ENOUGH_HOURS || state.seenHours % RENEW_HOURS !== 0) return
  state.seenHigh = percentile(seen, state.seenHours, 0.95)
  state.seenLow = state.seenHours >= LOW_HOURS ? percentile(seen, state.seenHours, 0.01) : NaN
  if (state.seenHours < YEAR_HOURS) return
  state.seenHours = 0
  for (let i = 0; i < CLASSES; i++) {
    seen[i] = Math.floor(seen[i]! / 2)
    state.seenHours += seen[i]!
  }
}

/** The class in which the percentile lies, and the place in it as if its hours were spread evenly. */
function percentile(seen: Float64Array, hours: number, p: number): number {
  let left = p * hours
  for (let i = 0; i < CLASSES; i++) {
    const here = seen[i]!
    if (here > 0 && left <= here) return (i + left / here) * CLASS_WIDTH
    left -= here
  }
  return 1
}
