import type { TrialInput } from '../../hub/api/schemas/trial.ts'
import { fieldNumber, notNumber, parseNumber } from './number-field.ts'
import { claimAbout } from './parts/trials/trial-words.ts'
import { say } from './say.ts'
import { fromInputTime, toInputTime } from './input-time.ts'

/** What a bed does in a trial. */
export type Role = 'treated' | 'untreated' | 'left out'

/** A trial as it stands in the form: text as typed, time on the garden's clock. */
export interface TrialDraft {
  readonly claim: string
  readonly material: string
  readonly direction: TrialInput['direction']
  readonly leastEffect: string
  readonly roles: Readonly<Record<number, Role>>
  readonly startsAt: string
  readonly days: string
}
type Errors = { path: string; message: string }[]

/** What a new trial begins with when nothing is known of it. */
export const emptyTrial = (now: number, zone: string): TrialDraft => ({
  claim: '',
  material: '',
  direction: 'lowers',
  leastEffect: fieldNumber(0.3),
  roles: {},
  startsAt: toInputTime(now, zone),
  days: '120',
})

/** A new trial of a material, with a claim that can be put into the gardener's own words. */
export function trialAbout(
  { material, direction = 'changes' }: { material: string; direction?: TrialDraft['direction'] },
  now: number,
  zone: string,
): TrialDraft {
  return {
    ...emptyTrial(now, zone),
    claim: claimAbout(material, direction),
    material,
    direction,
  }
}

/** The trial as the hub takes it, or what cannot be read yet. */
export function trialOf(draft: TrialDraft, zone: string): { trial: TrialInput; errors: Errors } {
  const errors: Errors = []
  const number = (text: string, path: string): number => {
    const value = parseNumber(text)
    if (value === null) errors.push({ path, message: notNumber(text) })
    return value ?? 0
  }
  const of = (role: Role): number[] =>
    Object.entries(draft.roles)
      .filter(([, mine]) => mine === role)
      .map(([id]) => Number(id))
  const startsAt = fromInputTime(draft.startsAt, zone)
  if (startsAt === null) errors.push({ path: 'startsAt', message: say`give a day and a time` })
  const trial: TrialInput = {
    claim: draft.claim.trim(),
    material: draft.material.trim(),
    direction: draft.direction,
    leastEffect: number(draft.leastEffect, 'leastEffect'),
    treated: of('treated'),
    untreated: of('untreated'),
    startsAt: startsAt ?? 0,
    days: number(draft.days, 'days'),
  }
  if (!Number.isInteger(trial.days)) errors.push({ path: 'days', message: say`give whole days` })
  if (trial.claim === '') errors.push({ path: 'claim', message: say`say what is claimed` })
  if (trial.material === '') errors.push({ path: 'material', message: say`say what is put on` })
  if (trial.treated.length === 0)
    errors.push({ path: 'treated', message: say`name at least one treated bed` })
  if (trial.untreated.length === 0)
    errors.push({ path: 'untreated', message: say`name at least one untreated bed` })
  return { trial, errors }
}

/**
 * What is needed for a plan, which asks less than the trial itself: the words are not read. Null while something
 * that counts is missing.
 */
export function planOf(draft: TrialDraft, zone: string): TrialInput | null {
  const { trial, errors } = trialOf(draft, zone)
  const counts = errors.filter(({ path }) => path !== 'claim' && path !== 'material')
  if (counts.length > 0) return null
  return {
    ...trial,
    claim: trial.claim === '' ? 'not said yet' : trial.claim,
    material: trial.material === '' ? 'not said yet' : trial.material,
  }
}
