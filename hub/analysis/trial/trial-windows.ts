import { amendmentOf } from '../../agronomy/amendments.ts'
import { DAY } from '../../model/clock.ts'

/** What a trial compares: all of it follows from start, length and material, so nobody picks it afterwards. */
export interface TrialWindows {
  /** Whole weeks after the start that do not count, because nothing acts at once. */
  readonly guardWeeks: number
  /** Whole weeks after those, up to the end. */
  readonly weeksAfter: number
  /** Planned end, epoch ms. */
  readonly endsAt: number
}

/** Weeks before the start that are used at most. */
export const MOST_WEEKS_BEFORE = 52
/** Weeks that a bed needs before the start. */
export const LEAST_WEEKS_BEFORE = 8
/** Weeks after the guard without which nothing is said. */
export const LEAST_WEEKS_AFTER = 4

/** Where no publication says how long a material takes. */
const USUAL_GUARD_DAYS = 28

/** A slow material is left the time to its highest effect, at most a third of the trial. */
export function trialWindows({
  startsAt,
  days,
  material,
}: {
  readonly startsAt: number
  readonly days: number
  readonly material?: string
}): TrialWindows {
  const known = material === undefined ? null : amendmentOf(material)
  const guardDays = Math.min(known?.peak?.low ?? USUAL_GUARD_DAYS, days / 3)
  const guardWeeks = Math.floor(guardDays / 7)
  return {
    guardWeeks,
    weeksAfter: Math.max(1, Math.floor(days / 7) - guardWeeks),
    endsAt: startsAt + days * DAY,
  }
}
