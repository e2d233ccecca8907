import type { Told } from '../../planning/told.ts'
import type { ToldView } from '../schemas/planning.ts'
import { sourceViews } from './source.ts'

export function toldViews(told: readonly Told[]): ToldView[] {
  return told.map(({ effect, sentence, reason, until, settle, sources }) => ({
    effect,
    sentence,
    reason,
    until: until === null ? null : Math.round(until),
    settle,
    sources: sourceViews(sources),
  }))
}
