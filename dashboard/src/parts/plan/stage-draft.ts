import type { StageInput } from '../../../../hub/api/schemas/planning.ts'
import { toShown, toStored } from '../../format.ts'
import { fieldNumber, notNumber, parseNumber } from '../../number-field.ts'
import type { Units } from '../../format.ts'
import { say } from '../../say.ts'
import { fromInputTime, toInputTime } from '../../input-time.ts'

/** A portion about to be written down, as typed. */
export interface StageDraft {
  readonly at: string
  readonly amount: string
  readonly text: string
}
interface Where {
  readonly zone: string
  readonly units: Units
}

/** What scales show: whole grams or tenths of an ounce; small amounts one digit finer. */
function weighed(grams: number, units: Units): string {
  const shown = toShown('mass', grams, units)
  const finer = grams < 10 ? 1 : 0
  const digits = (units === 'us' ? 1 : 0) + finer
  return fieldNumber(Number(shown.toFixed(digits)))
}

export function stageDraft(amountG: number, now: number, { zone, units }: Where): StageDraft {
  return { at: toInputTime(now, zone), amount: weighed(amountG, units), text: '' }
}

/** The portion in SI units; what stands in the field is what was weighed out. */
export function stageOf(
  draft: StageDraft,
  { zone, units }: Where,
): { readonly body: StageInput; readonly errors: { path: string; message: string }[] } {
  const errors: { path: string; message: string }[] = []
  const at = fromInputTime(draft.at, zone)
  if (at === null) errors.push({ path: 'at', message: say`give a day and a time` })
  const amount = parseNumber(draft.amount)
  if (amount === null) errors.push({ path: 'amountG', message: notNumber(draft.amount) })
  else if (amount <= 0) errors.push({ path: 'amountG', message: say`expected more than 0` })
  return {
    body: { at: at ?? 0, amountG: toStored('mass', amount ?? 0, units), text: draft.text },
    errors,
  }
}
