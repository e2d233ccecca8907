import type { EffectAnswer, EffectView } from '../../hub/api/schemas/findings.ts'
import { daysWords, daysWriter, withDoubt } from './doubt.ts'
import type { Units } from './format.ts'

/** How long half of the effect stays, in words. */
export function halfLifeWords(half: EffectAnswer['halfLife'], units: Units): string {
  switch (half.kind) {
    case 'known':
      return `${withDoubt(half.days, daysWriter(half.days, units))}${half.early ? ', early: not much of the return has been seen' : ''}`
    case 'at least':
      return `at least ${daysWords(half.days, units)}; it has not turned far enough to say more`
    case 'unknown':
      return `not known: ${half.reason}`
  }
}

/** How many treatments did something, in a sentence. */
export function effectsSentence(effects: readonly EffectView[]): string {
  if (effects.length === 0) {
    return 'No treatment is written in the journal of this bed, so there is nothing to follow.'
  }
  const of = (verdict: EffectAnswer['verdict']): number =>
    effects.filter((effect) => effect.answers.some((answer) => answer.verdict === verdict)).length
  const worked = of('effect')
  const what = effects.length === 1 ? 'The treatment' : `Of ${effects.length} treatments`
  if (effects.length === 1) {
    if (worked === 1) return `${what} in the journal had an effect that can be measured.`
    return of('no measurable effect') === 1
      ? `${what} in the journal had no effect that can be measured.`
      : `What the treatment in the journal did cannot be told yet.`
  }
  return `${what} in the journal ${worked === 0 ? 'none' : worked} had an effect that can be measured.`
}
