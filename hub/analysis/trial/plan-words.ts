import type { OwnNoise } from './own-noise.ts'
import { fixed, counted } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** The arithmetic of a plan. */
export interface PlanNumbers {
  /** The beds' past as it was, and the variance (pH squared) and correlation of a week that are reckoned with. */
  readonly past: OwnNoise
  readonly variance: number
  readonly rho: number
  /** Variance between beds of a lasting change, pH squared; null: fewer than three beds cannot tell. */
  readonly spread: number | null
  /** Part of `variance` that comes from the spots. */
  readonly spotVariance: number
  readonly weeksBefore: number
  readonly weeksAfter: number
  readonly guardWeeks: number
  readonly treated: number
  readonly untreated: number
  readonly days: number
  readonly leastEffect: number
  /** Standard error of the difference of differences, pH; times `factor` is `effect`. */
  readonly error: number
  readonly freedom: number
  readonly factor: number
  /** Smallest effect found in four of five trials, pH. */
  readonly effect: number
}

export function planSentence(
  { treated, untreated, leastEffect, days, effect }: PlanNumbers,
  needed: {
    readonly daysNeeded: number | null
    readonly bedsNeeded: number | null
    readonly spotsNeeded: number | null
  },
): string {
  const beds = say`${counted(treated, 'treated bed')} against ${untreated} untreated`
  const length = counted(days, 'day')
  if (effect <= leastEffect) {
    return say`Good to go: in ${length} ${beds} show a change of ${leastEffect} pH in at least four of five trials; the smallest they show so surely is ${fixed(effect, 2)} pH.`
  }
  const ways = [
    needed.daysNeeded === null ? '' : say`${needed.daysNeeded} days with these beds`,
    needed.bedsNeeded === null ? '' : say`${counted(needed.bedsNeeded, 'bed')} on each side`,
    needed.spotsNeeded === null ? '' : say`${counted(needed.spotsNeeded, 'spot')} in each bed`,
  ].filter((way) => way !== '')
  const instead =
    ways.length === 0
      ? say`Neither three years nor more beds or spots would do; look for a larger change.`
      : say`It takes ${ways.join(', or ')}.`
  return say`Too small as planned: in ${length} ${beds} show ${fixed(effect, 2)} pH or more, and would too often miss ${leastEffect}. ${instead}`
}

export function planGrounds(numbers: PlanNumbers): readonly string[] {
  const { past, variance, rho, spread, spotVariance, treated, untreated } = numbers
  return [
    say`In ${counted(past.weeks, 'week')} that all beds share, a bed's week wandered by ${fixed(Math.sqrt(past.variance), 3)} pH around the others, neighbouring weeks correlated by ${fixed(past.rho, 2)}.`,
    say`A short past shows too little: reckoned with ${fixed(Math.sqrt(variance), 3)} pH and ${fixed(rho, 2)}; ${Math.round((100 * spotVariance) / variance)} % of that variance comes from the spots.`,
    spread === null
      ? say`Two beds cannot tell how much beds differ in a lasting change; it is taken as nothing.`
      : say`Beds differ in a lasting change by ${fixed(Math.sqrt(spread), 2)} pH beyond that.`,
    say`${numbers.weeksBefore} weeks before against ${numbers.weeksAfter} after; ${counted(numbers.guardWeeks, 'week')} between do not count, the material is only beginning to work.`,
    say`Standard error with ${treated} treated and ${untreated} untreated ${fixed(numbers.error, 3)} pH; times ${fixed(numbers.factor, 2)} for 80 % power at 95 %: ${fixed(numbers.effect, 2)} pH.`,
  ]
}
