import { amendmentOf } from '../../agronomy/amendments.ts'
import { DAY } from '../../model/clock.ts'
import type { ClaimDirection } from '../../model/trial.ts'

/** What is claimed, fixed before anything is put on. */
export interface TrialClaim {
  readonly direction: ClaimDirection
  readonly material: string
  /** The smallest change that would matter, pH, positive. */
  readonly leastEffect: number
  /** When it is put on, epoch ms. */
  readonly startsAt: number
  /** How long it runs, days. */
  readonly days: number
}

/** Which days are compared with which; all follows from the claim, so nobody can choose them afterwards. */
export interface TrialWindows {
  /** Before: [beforeFrom, startsAt), epoch ms. */
  readonly beforeFrom: number
  readonly startsAt: number
  /** Left out, because the material is only beginning to work: [startsAt, afterFrom). */
  readonly lagDays: number
  readonly afterFrom: number
  /** After: [afterFrom, endsAt). */
  readonly endsAt: number
}

const BEFORE_DAYS = 365
/** Where no publication says how long a material takes. */
const USUAL_LAG_DAYS = 28
/** At most this share of the trial is left out. */
const MOST_LAG_SHARE = 1 / 3

export function trialWindows({ material, startsAt, days }: TrialClaim): TrialWindows {
  const known = amendmentOf(material)?.peak?.low ?? USUAL_LAG_DAYS
  const lagDays = 7 * Math.floor(Math.min(known, days * MOST_LAG_SHARE) / 7)
  // Weeks are counted from the UTC day it was put on; that day belongs to neither side's before.
  const start = Math.floor(startsAt / DAY) * DAY
  return {
    beforeFrom: start - BEFORE_DAYS * DAY,
    startsAt: start,
    lagDays,
    afterFrom: start + lagDays * DAY,
    endsAt: start + days * DAY,
  }
}
