import type { ClaimDirection } from '../../model/trial.ts'
import type { Span } from '../amendment/dose-effect.ts'
import { fixed, counted } from '../../words/figure.ts'
import { said, say, toSay } from '../../words/say.ts'

export type Verdict =
  | 'planned'
  | 'too early'
  | 'supported'
  | 'contradicted'
  | 'no measurable effect'
  | 'undecided'
  | 'insufficient'

const CLAIMED: Record<ClaimDirection, string> = {
  raises: toSay('raises the pH'),
  lowers: toSay('lowers the pH'),
  changes: toSay('changes the pH'),
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
  const moved =
    value < 0
      ? say`${fixed(Math.abs(value), 2)} pH lower`
      : say`${fixed(Math.abs(value), 2)} pH higher`
  const span = say`95 % interval ${signed(effect.low!)} to ${signed(effect.high!)}`
  const what =
    daysLeft > 0
      ? say`The treated beds stand ${moved} against the untreated ones (${span})`
      : say`The treated beds ended ${moved} against the untreated ones (${span})`
  const next =
    daysLeft > 0
      ? ` ${say`It runs for another ${counted(daysLeft, 'day')}: wait for its end before you act on it.`}`
      : ''
  switch (verdict) {
    case 'supported':
      return say`Supported: that it ${said(CLAIMED[direction])}. ${what}.${next || small(effect, leastEffect)}`
    case 'contradicted':
      return say`Contradicted: that it ${said(CLAIMED[direction])}. ${what}, the other way.${next}`
    case 'no measurable effect': {
      const most = fixed(Math.ceil(Math.max(0, notLargerThan!) * 100) / 100, 2)
      const way = direction === 'changes' ? '' : ` ${say`in the claimed direction`}`
      return say`No measurable effect: if there is one${way}, it is not larger than ${most} pH; ${leastEffect} would matter. ${what}.${next}`
    }
    case 'undecided': {
      const advice =
        next ||
        ` ${say`Too little was seen to tell; more beds on each side or a longer run would, and the plan says how many.`}`
      return say`Undecided. ${what}; an effect of ${leastEffect} pH is neither shown nor ruled out.${advice}`
    }
    case 'planned':
    case 'too early':
    case 'insufficient':
      throw new Error(`'${verdict}' has words of its own`)
  }
}

function small(effect: Span, leastEffect: number): string {
  return Math.abs(effect.value!) < leastEffect
    ? ` ${say`That is less than the ${leastEffect} pH that would matter.`}`
    : ''
}

function signed(ph: number): string {
  return `${ph < 0 ? '−' : '+'}${fixed(Math.abs(ph), 2)}`
}
