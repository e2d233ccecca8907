import type { EffectAnswer, EffectView } from '../../hub/api/schemas/findings.ts'
import { daysWords, daysWriter, withDoubt } from './doubt.ts'
import type { Units } from './format.ts'
import { say } from './say.ts'

/** How long half of the effect stays, in words. */
export function halfLifeWords(half: EffectAnswer['halfLife'], units: Units): string {
  switch (half.kind) {
    case 'known':
      return half.early
        ? say`${withDoubt(half.days, daysWriter(half.days, units))}, early: not much of the return has been seen`
        : withDoubt(half.days, daysWriter(half.days, units))
    case 'at least':
      return say`at least ${daysWords(half.days, units)}; it has not turned far enough to say more`
    case 'unknown':
      return say`not known: ${half.reason}`
  }
}

/** How many treatments did something, in a sentence. */
export function effectsSentence(effects: readonly EffectView[]): string {
  if (effects.length === 0) {
    return say`No treatment is written in the journal of this bed, so there is nothing to follow.`
  }
  const of = (verdict: EffectAnswer['verdict']): number =>
    effects.filter((effect) => effect.answers.some((answer) => answer.verdict === verdict)).length
  const worked = of('effect')
  if (effects.length === 1) {
    if (worked === 1) return say`The treatment in the journal had an effect that can be measured.`
    return of('no measurable effect') === 1
      ? say`The treatment in the journal had no effect that can be measured.`
      : say`What the treatment in the journal did cannot be told yet.`
  }
  return worked === 0
    ? say`Of ${effects.length} treatments in the journal none had an effect that can be measured.`
    : say`Of ${effects.length} treatments in the journal ${worked} had an effect that can be measured.`
}
