import type { Entry, EntryInput } from '../../hub/api/schemas/journal.ts'
import type { JournalKind, SampleMethod } from '../../hub/model/journal.ts'
import { toStored } from './format.ts'
import { amountField, fieldNumber, notNumber, parseNumber } from './number-field.ts'
import type { Units } from './format.ts'
import { say, toSay } from './say.ts'
import { fromInputTime, toInputTime } from './input-time.ts'

/** What stands in the form: text as typed, amounts in the gardener's units, time on the garden's clock. */
export interface JournalDraft {
  readonly kind: JournalKind
  readonly at: string
  readonly material: string
  readonly amount: string
  readonly water: string
  readonly probe: string
  readonly ph: string
  readonly method: string
  readonly text: string
}
interface Where {
  readonly zone: string
  readonly units: Units
}
type Errors = { path: string; message: string }[]

export const METHODS: readonly SampleMethod[] = [
  toSay('hand meter'),
  toSay('slurry 1:1'),
  toSay('slurry 1:2'),
  toSay('slurry CaCl2'),
  toSay('laboratory'),
  toSay('laboratory 1:1'),
  toSay('laboratory 1:2'),
  toSay('laboratory CaCl2'),
  toSay('colour kit'),
]
const isMethod = (text: string): text is SampleMethod => METHODS.some((m) => m === text)

export function draftOf(entry: Entry | null, now: number, { zone, units }: Where): JournalDraft {
  return {
    kind: entry?.kind ?? 'treatment',
    at: toInputTime(entry?.at ?? now, zone),
    material: entry?.material ?? '',
    amount: amountField('mass', entry?.amountG ?? null, units),
    water: amountField('volume', entry?.waterL ?? null, units),
    probe: entry?.probe ?? '',
    ph: fieldNumber(entry?.ph),
    method: entry?.method ?? '',
    text: entry?.text ?? '',
  }
}

/**
 * The entry in SI units, or what cannot be read. `before` is the entry that is changed: an amount or a time the
 * gardener did not touch keeps its stored value to the last digit.
 */
export function entryOf(
  draft: JournalDraft,
  { zone, units }: Where,
  before: Entry | null = null,
): { entry: EntryInput; errors: Errors } {
  const errors: Errors = []
  const untouched = before === null ? null : draftOf(before, before.at, { zone, units })
  const number = (text: string, path: string): number | null => {
    if (text.trim() === '') return null
    const value = parseNumber(text)
    if (value === null) errors.push({ path, message: notNumber(text) })
    return value
  }
  const { kind } = draft
  const mass = kind === 'treatment' ? number(draft.amount, 'amountG') : null
  const water = kind === 'irrigation' ? number(draft.water, 'waterL') : null
  const ph = kind === 'sample' ? number(draft.ph, 'ph') : null
  const at = fromInputTime(draft.at, zone)
  if (at === null) errors.push({ path: 'at', message: say`give a day and a time` })
  const kept = <T>(same: boolean, stored: T | undefined, typed: T): T =>
    same && stored !== undefined ? stored : typed
  const entry: EntryInput = {
    kind,
    at: kept(draft.at === untouched?.at, before?.at, at ?? 0),
    material: kind === 'treatment' && draft.material.trim() !== '' ? draft.material.trim() : null,
    amountG: kept(
      kind === 'treatment' && draft.amount === untouched?.amount,
      before?.amountG,
      mass === null ? null : toStored('mass', mass, units),
    ),
    waterL: kept(
      kind === 'irrigation' && draft.water === untouched?.water,
      before?.waterL,
      water === null ? null : toStored('volume', water, units),
    ),
    probe: kind === 'service' && draft.probe !== '' ? draft.probe : null,
    ph,
    method: kind === 'sample' && isMethod(draft.method) ? draft.method : null,
    text: draft.text,
  }
  return { entry, errors }
}
