import type { Trial } from '../../../../hub/api/schemas/trial.ts'

export const VERDICT_WORDS: Readonly<Record<Trial['result']['verdict'], string>> = {
  planned: 'planned',
  'too early': 'too early to say',
  supported: 'the claim is supported',
  contradicted: 'the claim is contradicted',
  'no measurable effect': 'no measurable effect',
  undecided: 'undecided',
  insufficient: 'not enough to go on',
}
export const DIRECTION_WORDS: Readonly<Record<Trial['direction'], string>> = {
  raises: 'raises the pH',
  lowers: 'lowers the pH',
  changes: 'changes the pH',
}

/** How far a trial has come. */
export type Phase = 'planned' | 'running' | 'over'
export function phaseOf(
  trial: Pick<Trial, 'startsAt' | 'endsAt' | 'givenUpAt'>,
  now: number,
): Phase {
  if (trial.givenUpAt !== null || trial.endsAt <= now) return 'over'
  return trial.startsAt > now ? 'planned' : 'running'
}

const DAY = 86_400_000
/** Whole days a trial lasts, those gone by, and those still to come. */
export function daysOf(
  trial: Pick<Trial, 'startsAt' | 'endsAt'>,
  now: number,
): { readonly all: number; readonly gone: number; readonly left: number } {
  const all = Math.round((trial.endsAt - trial.startsAt) / DAY)
  const left = Math.min(all, Math.max(0, Math.ceil((trial.endsAt - now) / DAY)))
  return { all, gone: all - left, left }
}
