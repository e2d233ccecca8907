import { DAY } from '../../model/clock.ts'
import type { LevelBreak } from '../drift/level-pieces.ts'

/** A treatment moves a bed by about this much when all is done, pH, give or take: how much went on is seldom known. */
const USUAL = { mean: 0.4, sd: 0.4 } as const
/** Half-times of its work, days, fast and slow materials alike. */
const HALF_DAYS = [7, 15, 30, 60] as const

/** What a treatment at work has still to do. */
export interface StillToCome {
  /** Start of the work, epoch ms; -Infinity when nothing is at work. */
  readonly from: number
  /** Mean and variance of the change within so many days from now, pH; before the bed's own slope is heard. */
  within(days: number): { mean: number; variance: number }
}

/**
 * The newest treatment that is still at work. Its direction is known, size and pace are not, and that doubt is part of
 * the outlook.
 */
export function stillToCome(breaks: readonly LevelBreak[], at: number): StillToCome {
  const working = breaks.findLast((b) => b.at <= at && at < (b.until ?? b.at))
  if (working === undefined) return { from: -Infinity, within: () => ({ mean: 0, variance: 0 }) }
  const gone = (at - working.at) / DAY
  return {
    from: working.at,
    within(days) {
      const shares = HALF_DAYS.map((half) => 2 ** (-gone / half) - 2 ** (-(gone + days) / half))
      const share = shares.reduce((sum, s) => sum + s, 0) / shares.length
      const square = shares.reduce((sum, s) => sum + s * s, 0) / shares.length
      const mean = USUAL.mean * (working.toward ?? 0)
      return {
        mean: mean * share,
        variance: (mean ** 2 + spread(working)) * square - (mean * share) ** 2,
      }
    },
  }
}

/** Where the direction is not known either, the usual size may be either way. */
const spread = ({ toward }: LevelBreak): number =>
  USUAL.sd ** 2 + (toward === undefined ? USUAL.mean ** 2 : 0)
