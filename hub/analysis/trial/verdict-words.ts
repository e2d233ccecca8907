import type { ClaimDirection } from '../../model/trial.ts'
import type { Span } from '../amendment/dose-effect.ts'
import { counted } from '../format.ts'

export type Verdict =
  | 'planned'
  | 'too early'
  | 'supported'
  | 'contradicted'
  | 'no measurable effect'
  | 'undecided'
  | 'insufficient'

const CLAIMED: Record<ClaimDirection, string> = {
  raises: 'raises the pH',
  lowers: 'lowers the pH',
  changes: 'changes the pH',
}

/** What was found, how sure it is, what comes next. */
export function verdictSentence({
  verdict,
  effect,
  notLargerThan,
  direction,
  leastEffect,
  daysLeft,
}: {
  verdict: Verdict
  effect: Span
  notLargerThan: number | null
  direction: ClaimDirection
  leastEffect: number
  daysLeft: number
}): string {
  const value = effect.value!
  const moved = `${Math.abs(value).toFixed(2)} pH ${value < 0 ? 'lower' : 'higher'}`
  const span = `95 % interval ${signed(effect.low!)} to ${signed(effect.high!)}`
  const found = `The treated beds ended ${moved} against the untreated ones (${span})`
  const soFar = found.replace('ended', 'stand')
  const what = daysLeft > 0 ? soFar : found
  const next =
    daysLeft > 0
      ? ` It runs for another ${counted(daysLeft, 'day')}: wait for its end before you act on it.`
      : ''
  switch (verdict) {
    case 'supported':
      return `Supported: that it ${CLAIMED[direction]}. ${what}.${next || small(effect, leastEffect)}`
    case 'contradicted':
      return `Contradicted: that it ${CLAIMED[direction]}. ${what}, the other way.${next}`
    case 'no measurable effect': {
      const most = (Math.ceil(Math.max(0, notLargerThan!) * 100) / 100).toFixed(2)
      const way = direction === 'changes' ? '' : ' in the claimed direction'
      return `No measurable effect: if there is one${way}, it is not larger than ${most} pH; ${leastEffect} would matter. ${what}.${next}`
    }
    case 'undecided': {
      const advice =
        next ||
        ' Too little was seen to tell; more beds on each side or a longer run would, and the plan says how many.'
      return `Undecided. ${what}; an effect of ${leastEffect} pH is neither shown nor ruled out.${advice}`
    }
    case 'planned':
    case 'too early':
    case 'insufficient':
      throw new Error(`'${verdict}' has words of its own`)
  }
}

function small(effect: Span, leastEffect: number): string {
  return Math.abs(effect.value!) < leastEffect
    ? ` That is less than the ${leastEffect} pH that would matter.`
    : ''
}

function signed(ph: number): string {
  return `${ph < 0 ? '−' : '+'}${Math.abs(ph).toFixed(2)}`
}
