import type { Dosing } from '../../agronomy/dosing.ts'
import { NO_RESPONSE_ONSETS, OVERSHOOT_RATIO } from '../../agronomy/planning-limits.ts'
import { bandFor } from '../../analysis/band.ts'
import { DAY } from '../../model/clock.ts'
import type { Plan, Range } from '../../model/plan.ts'
import type { BedFacts } from '../bed-facts.ts'
import type { Follow } from '../follow.ts'
import type { PlanCheck } from './against-plan.ts'
import type { MeasuredChange } from './measured-change.ts'

/** Too little is expected yet to be told from noise, pH. */
export const HARDLY_ANYTHING = 0.1
/** Beyond its aim by more than this a bed has been moved too far, pH; the same as counts as near enough to a band. */
const PAST_PH = 0.2

/** True when a bed lies well beyond the aim of its plan. */
export function isPastAim({ fromPh, targetPh }: Plan, now: number | null): boolean {
  return now !== null && Math.sign(targetPh - fromPh) * (now - targetPh) > PAST_PH
}

/** How the response stands to the prediction; only what the whole interval says is called too much or too little. */
export function verdictOf(
  plan: Plan,
  dosing: Dosing,
  state: {
    readonly measured: MeasuredChange
    readonly predicted: Range
    readonly since: number
    readonly at: number
    readonly now: number | null
  },
): Follow['verdict'] {
  const { measured, predicted, since, at, now } = state
  const toward = Math.sign(plan.targetPh - plan.fromPh)
  // By size: towards where the plan wants to go is positive.
  const [least, most] = toward > 0 ? [measured.low, measured.high] : [-measured.high, -measured.low]
  const expected = toward * predicted.typical
  if (
    least > OVERSHOOT_RATIO.value * Math.max(expected, HARDLY_ANYTHING) ||
    (isPastAim(plan, now) && least > 0)
  ) {
    return 'more than expected'
  }
  const shown = (at - since) / DAY >= NO_RESPONSE_ONSETS.value * dosing.onset.high
  if (expected < HARDLY_ANYTHING && !shown) return 'too early'
  if (shown && expected >= HARDLY_ANYTHING && most < expected / 3) return 'no response'
  if (most < toward * predicted.low) return 'less than expected'
  return 'as expected'
}

/**
 * Whether nothing more of a plan that runs should go on: it was too much, the bed is inside its band, or something
 * speaks against it.
 */
export function stopOf(
  { bed }: BedFacts,
  state: {
    readonly verdict: Follow['verdict']
    readonly now: number | null
    readonly begun: boolean
    readonly check: PlanCheck
  },
): Follow['stop'] {
  const { verdict, now, begun, check } = state
  if (!begun) return check.against === null ? null : 'stopped'
  if (verdict === 'more than expected') return 'stopped'
  // The band of the crops of today: a plan may have been made for others.
  const { band } = bandFor(bed)
  const inside = now !== null && band !== null && now >= band.low && now <= band.high
  if (inside) return 'reached'
  return check.against === null ? null : 'stopped'
}
