import { DAY } from '../../model/clock.ts'
import type { ClaimDirection } from '../../model/trial.ts'
import type { DailySeries } from '../aggregate/daily-series.ts'
import type { Span } from '../amendment/dose-effect.ts'
import { WEEK } from '../aggregate/weekly-medians.ts'
import { type ArFit, arRegression } from '../stats/ar-regression.ts'
import { fQuantile } from '../stats/f-quantile.ts'
import { tQuantile } from '../stats/t-quantile.ts'
import { type SideDifference, sideDifference } from './side-difference.ts'
import { usualRho } from './cautious-noise.ts'
import { contrastError } from './contrast-error.ts'
import { type Permutation, permutation } from './permutation.ts'
import {
  LEAST_WEEKS_AFTER,
  LEAST_WEEKS_BEFORE,
  MOST_WEEKS_BEFORE,
  trialWindows,
} from './trial-windows.ts'
import { type Verdict, verdictSentence } from './verdict-words.ts'
import { fixed, counted } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

export interface TrialResult {
  readonly verdict: Verdict
  /** Difference of differences with its 95 % interval, pH; null where there is too little. */
  readonly effect: Span | null
  /** No effect found: none in the claimed direction larger than this, pH. */
  readonly notLargerThan: number | null
  /** Looked at before its planned end. */
  readonly early: boolean
  /** What was compared. */
  readonly windows: ComparedWindows
  /** How unusual the beds' changes are among all ways to have chosen the treated ones; null where not known. */
  readonly permutation: Permutation | null
  readonly sentence: string
  readonly grounds: readonly string[]
}

/** Epoch ms, the ends left out; weeks are counted from the start. */
export interface ComparedWindows {
  readonly beforeFrom: number
  readonly startsAt: number
  /** What lies between start and this does not count. */
  readonly afterFrom: number
  readonly until: number
  readonly weeksCounted: readonly number[]
  readonly weeksLeftOut: readonly { readonly week: number; readonly reason: string }[]
}

export interface TrialData {
  readonly treated: readonly DailySeries[]
  readonly untreated: readonly DailySeries[]
  readonly direction: ClaimDirection
  /** Smallest change that would matter, pH. */
  readonly leastEffect: number
  readonly startsAt: number
  readonly days: number
  /** What is put on; slow materials get a longer guard. @default one that works within four weeks */
  readonly material?: string
  /** Now, or when it was given up, epoch ms. */
  readonly at: number
}

const SURE = 0.975
/** Looks before the planned end decide only beyond this: looking often finds luck (Haybittle and Peto, from memory). */
const SURE_EARLY = 0.9995
/** Beds that scatter more than chance allows at this level speak for themselves. */
const SCATTER_LEVEL = 0.95

/**
 * What a trial has shown: the change of the treated beds less that of the untreated ones, from the weeks before to
 * the weeks after a guard. Neighbouring weeks are not taken as independent, and beds that scatter among
 * themselves widen the interval.
 */
export function trialResult(trial: TrialData): TrialResult {
  const { startsAt, days, at, direction, leastEffect } = trial
  const { guardWeeks: guard, endsAt: end, weeksAfter: planned } = trialWindows(trial)
  const early = at < end
  const until = Math.min(at, end)
  const weeks = at < startsAt ? null : sideDifference({ ...trial, guard, until })
  const none = (
    verdict: Verdict,
    sentence: string,
    grounds: readonly string[] = [],
  ): TrialResult => ({
    verdict,
    effect: null,
    notLargerThan: null,
    early,
    windows: {
      beforeFrom: startsAt - MOST_WEEKS_BEFORE * WEEK,
      startsAt,
      afterFrom: startsAt + guard * WEEK,
      until,
      weeksCounted: Array.from(weeks?.step ?? []),
      weeksLeftOut: weeks?.leftOutWeeks ?? [],
    },
    permutation: null,
    sentence,
    grounds,
  })
  if (weeks === null) {
    const ahead = counted(Math.ceil((startsAt - at) / DAY), 'day')
    return none(
      'planned',
      say`Planned: it starts in ${ahead} and runs for ${counted(days, 'day')}.`,
    )
  }
  const { weeksBefore, weeksAfter } = weeks
  const counts = [
    say`${counted(weeksBefore, 'week')} before and ${weeksAfter} after; the first ${counted(guard, 'week')} after the start do not count.`,
  ]
  if (weeksBefore < LEAST_WEEKS_BEFORE) {
    return none(
      'insufficient',
      weeksBefore === 0 && weeks.leftOut > 0
        ? say`Nothing can be said: one side has no bed with ${LEAST_WEEKS_BEFORE} weeks of pH before the start.`
        : say`Nothing can be said: both sides share ${counted(weeksBefore, 'week')} before the start; needed are ${LEAST_WEEKS_BEFORE}.`,
      counts,
    )
  }
  const needed = Math.min(LEAST_WEEKS_AFTER, Math.max(1, planned))
  if (weeksAfter < needed) {
    const have = say`${counted(weeksAfter, 'week')} that count after the start; needed are ${needed}.`
    return early
      ? none('too early', say`Too early: there are ${have}`, counts)
      : none('insufficient', say`It ended without an answer: there are ${have}`, counts)
  }
  const { value, se, freedom, grounds } = estimate(weeks)
  const half = tQuantile(SURE, freedom) * se
  const effect = { value, low: value - half, high: value + half }
  const sureHalf = early ? tQuantile(SURE_EARLY, freedom) * se : half
  const { verdict, notLargerThan } = judge(
    { low: value - sureHalf, high: value + sureHalf },
    direction,
    leastEffect,
  )
  const chance = permutation(weeks.treatedChanges, weeks.untreatedChanges)
  return {
    ...none(verdict, ''),
    effect,
    notLargerThan,
    permutation: chance,
    sentence: verdictSentence({
      verdict,
      effect,
      notLargerThan,
      direction,
      leastEffect,
      daysLeft: early ? Math.ceil((end - at) / DAY) : 0,
    }),
    grounds: [
      ...counts,
      ...grounds,
      ...(chance === null
        ? []
        : [
            say`Of the ${chance.ways} ways to choose which beds are treated, ${chance.asLarge} would show a difference at least as large.`,
          ]),
    ],
  }
}

function estimate(weeks: SideDifference): {
  value: number
  se: number
  freedom: number
  grounds: readonly string[]
} {
  const { step, value, after, treatedChanges, untreatedChanges, leftOut } = weeks
  const level = new Float64Array(step.length).fill(1)
  const fit = arRegression([level, after], value, step)
  const { weekly, weeksFreedom } = weeklyError(fit, step)
  const bedsFreedom =
    Math.max(0, treatedChanges.length - 1) + Math.max(0, untreatedChanges.length - 1)
  const share = 1 / treatedChanges.length + 1 / untreatedChanges.length
  const grounds = [
    say`${counted(treatedChanges.length, 'treated bed')} and ${untreatedChanges.length} untreated, each against its own level before.`,
    say`Correlation of neighbouring weeks ${fixed(fit.rho, 2)}: the weeks are worth ${fixed(weeksFreedom, 0)} independent ones.`,
    ...(leftOut > 0
      ? [say`${counted(leftOut, 'bed')} left out: too few weeks before the start.`]
      : []),
  ]
  if (bedsFreedom === 0) {
    return {
      value: fit.beta[1]!,
      se: Math.sqrt(weekly),
      freedom: weeksFreedom,
      grounds: [...grounds, say`One bed a side: how much beds differ by themselves is not known.`],
    }
  }
  const beds = share * ((squares(treatedChanges) + squares(untreatedChanges)) / bedsFreedom)
  const scatter = say`Beds of one side scatter by ${fixed(Math.sqrt(beds / share), 2)} pH in their change`
  if (beds > weekly * fQuantile(SCATTER_LEVEL, bedsFreedom, weeksFreedom)) {
    return {
      value: fit.beta[1]!,
      se: Math.sqrt(beds),
      freedom: bedsFreedom,
      grounds: [
        ...grounds,
        say`${scatter}, more than the weeks explain: the interval rests on it.`,
      ],
    }
  }
  const freedom = bedsFreedom + weeksFreedom
  return {
    value: fit.beta[1]!,
    se: Math.sqrt((bedsFreedom * beds + weeksFreedom * weekly) / freedom),
    freedom,
    grounds: [...grounds, say`${scatter}, no more than the weeks explain.`],
  }
}

/**
 * Squared standard error of the effect by the weeks. A short record shows too little correlation about as often as
 * too much, and intervals that rest on too little are far too short: the correlation is also tried drawn
 * towards the usual one, and the larger error is kept.
 */
function weeklyError(
  fit: ArFit,
  step: Float64Array,
): { readonly weekly: number; readonly weeksFreedom: number } {
  const n = step.length
  const rho = usualRho(fit.rho, n)
  const { unit, freedom } = contrastError(step, rho)
  const square = fit.residuals.reduce((sum, value) => sum + value * value, 0)
  // Level and step take two of the weeks' worth out of the residuals.
  const variance = (square / n) * ((freedom + 2) / freedom)
  const usual = variance * unit * unit
  const own = fit.se[1]! ** 2
  return usual > own
    ? { weekly: usual, weeksFreedom: Math.min(freedom, fit.freedom) }
    : { weekly: own, weeksFreedom: fit.freedom }
}

/** Verdict on what the interval excludes. For 'changes' either direction will do. */
function judge(
  { low, high }: { low: number; high: number },
  direction: ClaimDirection,
  leastEffect: number,
): { verdict: Verdict; notLargerThan: number | null } {
  const farthest = Math.max(Math.abs(low), Math.abs(high))
  const sign = direction === 'lowers' ? -1 : 1
  // Ends as seen in the claimed direction.
  const [least, most] = sign > 0 ? [low, high] : [-high, -low]
  if (farthest < leastEffect) return { verdict: 'no measurable effect', notLargerThan: farthest }
  if (direction === 'changes') {
    return { verdict: low > 0 || high < 0 ? 'supported' : 'undecided', notLargerThan: null }
  }
  if (least > 0) return { verdict: 'supported', notLargerThan: null }
  if (most < 0) return { verdict: 'contradicted', notLargerThan: null }
  if (most < leastEffect) return { verdict: 'no measurable effect', notLargerThan: most }
  return { verdict: 'undecided', notLargerThan: null }
}

function squares(values: readonly number[]): number {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length
  return values.reduce((sum, value) => sum + (value - mean) ** 2, 0)
}
