import type { Dosing } from '../agronomy/dosing.ts'
import type { Range } from '../model/plan.ts'

/** One way it may go. Days. */
interface Course {
  /** Until the pH begins to move. */
  readonly lag: number
  /** Time constant of the rise. */
  readonly rise: number
  /** Until the effect begins to go back. */
  readonly peak: number
  readonly halfLife: number
}

/**
 * Share of its full effect that a treatment has so many days after it went on: nothing before, a rise that levels off,
 * and from its highest point on the way back, half in every half-life. Least, most likely and largest over what the
 * published times leave open; at any day they are in this order.
 */
export function predictedShare(dosing: Dosing, days: number): Range {
  const { onset, rise, peak, halfLife } = dosing
  const rises = [
    { lag: 0, rise: rise.low },
    { lag: onset.low / 2, rise: rise.typical },
    { lag: onset.low, rise: rise.high },
  ]
  const returns = [
    { peak: peak.low, halfLife: halfLife.low },
    { peak: peak.typical, halfLife: halfLife.typical },
    { peak: peak.high, halfLife: halfLife.high },
  ]
  const shares = rises.flatMap((up) => returns.map((back) => shareOf({ ...up, ...back }, days)))
  return {
    low: Math.min(...shares),
    typical: shareOf({ ...rises[1]!, ...returns[1]! }, days),
    high: Math.max(...shares),
  }
}

function shareOf({ lag, rise, peak, halfLife }: Course, days: number): number {
  if (days <= lag) return 0
  const risen = 1 - Math.exp(-(days - lag) / rise)
  return days <= peak ? risen : risen * 2 ** (-(days - peak) / halfLife)
}
