import { DAY } from '../../model/clock.ts'
import type { DailySeries } from '../aggregate/daily-series.ts'
import { bedSpread } from './bed-spread.ts'
import { weekTable } from './bed-weeks.ts'
import { cautiousNoise } from './cautious-noise.ts'
import { type ContrastError, contrastError, powerFactor } from './contrast-error.ts'
import { ownNoise } from './own-noise.ts'
import { type PlanNumbers, planGrounds, planSentence } from './plan-words.ts'
import { MOST_WEEKS_BEFORE, trialWindows } from './trial-windows.ts'
import { say } from '../../words/say.ts'

export interface TrialPlan {
  readonly status: 'ok' | 'insufficient'
  /** With the named beds, for the stated effect; null: not within three years. */
  readonly daysNeeded: number | null
  /** Beds a side for the planned length; null: not with forty. */
  readonly bedsNeeded: number | null
  /** Spots a bed for the planned length and beds; null: more spots do not do it. */
  readonly spotsNeeded: number | null
  /** Smallest effect that is found in four of five trials of that length, pH. */
  readonly detectable: readonly { readonly days: number; readonly effect: number }[]
  /** Every number behind it, for the planned length; null where there is too little. */
  readonly numbers: PlanNumbers | null
  readonly sentence: string
  readonly grounds: readonly string[]
}

export interface TrialLayout {
  /** What was measured so far. */
  readonly treated: readonly DailySeries[]
  readonly untreated: readonly DailySeries[]
  /** How much single spots wander around their bed, standard deviation of a week, pH. */
  readonly spotSd: number
  readonly spotsPerBed: number
  /** Smallest change that would matter, pH. */
  readonly leastEffect: number
  /** Planned length. */
  readonly days: number
  /** What is put on; slow materials need longer. @default one that works within four weeks */
  readonly material?: string
}

const SHORTEST = 28
const LONGEST = 1095
const MOST_BEDS = 40
const MOST_SPOTS = 12
const SHOWN = [30, 60, 90, 120, 180, 270, 365]
/** Part of a week's variance that spots can be blamed for at most. */
const MOST_SPOT_SHARE = 0.9

/**
 * What a layout can show with a power of 80 % at 95 % sureness, from how the beds wandered apart in their past
 * year: smallest effect = (t(0.975) + t(0.8)) sqrt((1/nT + 1/nU) (own variance x weight of the contrast + spread
 * between beds)), the contrast weighted as in the result, weeks that follow each other not counted as
 * independent (usual power arithmetic, from memory).
 */
export function trialPlan(layout: TrialLayout): TrialPlan {
  const { treated, untreated, leastEffect, days, spotSd, spotsPerBed } = layout
  const beds = [...treated, ...untreated]
  const latest = Math.min(...beds.map((bed) => bed.day.at(-1) ?? -Infinity))
  const table = weekTable(beds, {
    origin: 0,
    from: latest - MOST_WEEKS_BEFORE * 7 * DAY,
    to: latest + DAY,
  })
  const past = treated.length === 0 || untreated.length === 0 ? null : ownNoise(table)
  if (past === null) return insufficient()
  const spread = bedSpread(table, past)
  const { variance, rho } = cautiousNoise(past)
  const spotVariance = Math.min(spotSd ** 2 / spotsPerBed, MOST_SPOT_SHARE * variance)
  const weeksBefore = Math.min(past.weeks, MOST_WEEKS_BEFORE)

  // The contrast depends on the length alone: once for each, not for each number of beds.
  const contrasts = new Map<number, ContrastError & { weeksAfter: number; guardWeeks: number }>()
  const contrastOf = (length: number) => {
    let known = contrasts.get(length)
    if (known === undefined) {
      const { guardWeeks, weeksAfter } = trialWindows({ ...layout, startsAt: 0, days: length })
      const step = Float64Array.from({ length: weeksBefore + weeksAfter }, (_, i) =>
        i < weeksBefore ? i - weeksBefore : i - weeksBefore + guardWeeks,
      )
      known = { ...contrastError(step, rho), weeksAfter, guardWeeks }
      contrasts.set(length, known)
    }
    return known
  }
  const look = (
    length: number,
    { a = treated.length, b = untreated.length, spots = spotsPerBed } = {},
  ) => {
    const { unit, freedom: weeks, weeksAfter, guardWeeks } = contrastOf(length)
    const own = variance - spotVariance + (spotVariance * spotsPerBed) / spots
    const error = Math.sqrt((1 / a + 1 / b) * (own * unit * unit + (spread ?? 0)))
    const freedom = weeks + Math.max(0, a - 1) + Math.max(0, b - 1)
    const factor = powerFactor(freedom)
    return { weeksAfter, guardWeeks, error, freedom, factor, effect: factor * error }
  }
  const planned = look(days)
  const enough = (effect: number): boolean => effect <= leastEffect
  const daysNeeded = first(SHORTEST, LONGEST, 7, (length) => enough(look(length).effect))
  const bedsNeeded = first(1, MOST_BEDS, 1, (n) => enough(look(days, { a: n, b: n }).effect))
  const spotsNeeded = first(1, MOST_SPOTS, 1, (spots) => enough(look(days, { spots }).effect))
  const numbers: PlanNumbers = {
    ...planned,
    past,
    variance,
    rho,
    spread,
    spotVariance,
    weeksBefore,
    treated: treated.length,
    untreated: untreated.length,
    days,
    leastEffect,
  }
  return {
    status: 'ok',
    daysNeeded,
    bedsNeeded,
    spotsNeeded,
    detectable: SHOWN.map((length) => ({ days: length, effect: look(length).effect })),
    numbers,
    sentence: planSentence(numbers, { daysNeeded, bedsNeeded, spotsNeeded }),
    grounds: planGrounds(numbers),
  }
}

function insufficient(): TrialPlan {
  return {
    status: 'insufficient',
    daysNeeded: null,
    bedsNeeded: null,
    spotsNeeded: null,
    detectable: [],
    numbers: null,
    sentence: say`Not enough to plan with: the beds of the trial, at least one on each side, need eight weeks of pH that all of them share. Measure first.`,
    grounds: [],
  }
}

function first(
  from: number,
  to: number,
  by: number,
  enough: (n: number) => boolean,
): number | null {
  for (let n = from; n <= to; n += by) if (enough(n)) return n
  return null
}
