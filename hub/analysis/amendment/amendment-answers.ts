import type { DailySeries } from '../aggregate/daily-series.ts'
import { amendmentEffect, type AmendmentOptions } from './amendment-effect.ts'
import type { Dose, DoseEffect } from './dose-effect.ts'

/** What is known of one journal entry's treatment: one answer a question. */
export interface DoseAnswers {
  /** The journal entry. */
  readonly id: number
  readonly at: number
  readonly material: string
  /** 'above where it was' always; 'advantage over untreated' first where a control exists. */
  readonly answers: readonly DoseEffect[]
}

/** Both questions for every treatment up to `at`, in the order of time. */
export function amendmentAnswers(
  treated: DailySeries,
  control: DailySeries | null,
  doses: readonly Dose[],
  options: AmendmentOptions,
): readonly DoseAnswers[] {
  const alone = amendmentEffect(treated, null, doses, { at: options.at })
  const held = control === null ? null : amendmentEffect(treated, control, doses, options)
  const all = [held, alone].flatMap((effect) => (effect?.status === 'ok' ? effect.doses : []))
  return doses
    .filter((dose) => dose.at <= options.at)
    .toSorted((a, b) => a.at - b.at || a.id - b.id)
    .map(({ id, at, material }) => ({
      id,
      at,
      material,
      answers: all.filter(({ ids }) => ids.includes(id)),
    }))
}
