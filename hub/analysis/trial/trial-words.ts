import { counted } from '../format.ts'
import type { TrialClaim } from './trial-windows.ts'

export type TrialVerdict =
  | 'planned'
  | 'too early'
  | 'supported'
  | 'contradicted'
  | 'no measurable effect'
  | 'undecided'
  | 'insufficient'

interface Told {
  readonly claim: TrialClaim
  readonly effect: { readonly value: number; readonly low: number; readonly high: number } | null
  readonly daysLeft: number | null
  readonly have: string
  readonly notLargerThan: number | null
  readonly givenUp?: boolean
}

/** What came out, how sure, what next. */
export function trialSentence(
  verdict: TrialVerdict,
  { claim, effect, daysLeft, have, notLargerThan, givenUp = false }: Told,
): string {
  const { material, direction, leastEffect, days } = claim
  const what = `${material} ${direction} pH`
  const sized =
    effect === null
      ? ''
      : `${signed(effect.value)} pH (${signed(effect.low)} to ${signed(effect.high)})`
  const least = leastEffect.toFixed(2)
  switch (verdict) {
    case 'planned':
      return `Planned: '${what}' will be judged ${days} days after the start, not before.`
    case 'too early': {
      const soFar = effect === null ? `there are ${have}` : `so far ${sized}, which is no verdict`
      return `Too early: ${soFar}. It needs ${counted(daysLeft ?? 0, 'more day')}.`
    }
    case 'supported': {
      const most = Math.max(Math.abs(effect!.low), Math.abs(effect!.high))
      const small = most < leastEffect ? ` That is less than the ${least} that would matter.` : ''
      return `Supported: '${what}'. Against the untreated beds the treated ones changed by ${sized}.${small}`
    }
    case 'contradicted':
      return `Contradicted: '${what}'. Against the untreated beds the treated ones changed the other way, by ${sized}.`
    case 'no measurable effect':
      return `No measurable effect of ${material}; if there is one, it is not larger than ${roundUp(notLargerThan!)} pH. Measured: ${sized}.`
    case 'undecided':
      return givenUp
        ? `Given up before its planned end, so no verdict. Until then ${sized}.`
        : `Undecided: ${sized}. That leaves room for no effect and for one of ${least}; a longer trial or more beds would tell.`
    case 'insufficient':
      return `Not enough to judge '${what}': there are ${have}.`
  }
}

function roundUp(ph: number): string {
  return (Math.ceil(ph * 100 - 1e-9) / 100).toFixed(2)
}

function signed(ph: number): string {
  const text = ph.toFixed(2)
  return ph > 0 && text !== '0.00' ? `+${text}` : text.replace(/^-(0\.00)$/, '$1')
}
