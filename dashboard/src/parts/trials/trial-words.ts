import type { Trial } from '../../../../hub/api/schemas/trial.ts'
import { num } from '../../format.ts'
import type { Units } from '../../format.ts'
import { said, say, toSay } from '../../say.ts'

export const VERDICT_WORDS: Readonly<Record<Trial['result']['verdict'], string>> = {
  planned: toSay('planned'),
  'too early': toSay('too early to say'),
  supported: toSay('the claim is supported'),
  contradicted: toSay('the claim is contradicted'),
  'no measurable effect': toSay('no measurable effect'),
  undecided: toSay('undecided'),
  insufficient: toSay('not enough to go on'),
}

/** What is claimed of the pH, and how much of it would matter. */
export function claimedWords(
  { direction, leastEffect }: Pick<Trial, 'direction' | 'leastEffect'>,
  units: Units,
): string {
  const least = num(leastEffect, 2, units)
  switch (direction) {
    case 'raises':
      return say`it raises the pH; from ${least} on it would matter`
    case 'lowers':
      return say`it lowers the pH; from ${least} on it would matter`
    case 'changes':
      return say`it changes the pH; from ${least} on it would matter`
  }
}

/** A claim to begin with, which can be put into the gardener's own words. */
export function claimAbout(material: string, direction: Trial['direction']): string {
  switch (direction) {
    case 'raises':
      return say`putting on ${said(material)} raises the pH`
    case 'lowers':
      return say`putting on ${said(material)} lowers the pH`
    case 'changes':
      return say`putting on ${said(material)} changes the pH`
  }
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
