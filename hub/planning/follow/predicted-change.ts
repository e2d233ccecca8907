import type { Dosing } from '../../agronomy/dosing.ts'
import { DAY } from '../../model/clock.ts'
import type { PlanStage, Range } from '../../model/plan.ts'
import { predictedShare } from '../predict.ts'

/** A portion that was put on, or is going to be. */
export interface PutOn {
  readonly stage: PlanStage
  /** Epoch ms. */
  readonly at: number
  /** Of the product on the whole bed, g. */
  readonly amountG: number
}

export const NO_CHANGE: Range = { low: 0, typical: 0, high: 0 }

/** What these portions are expected to have done by `at`, signed pH: more of the product does more in proportion. */
export function predictedChange(portions: readonly PutOn[], dosing: Dosing, at: number): Range {
  return sumOf(portions, (portion) => predictedShare(dosing, (at - portion.at) / DAY))
}

/** What these portions do at their fullest, signed pH. */
export function fullChange(portions: readonly PutOn[]): Range {
  return sumOf(portions, () => ({ low: 1, typical: 1, high: 1 }))
}

function sumOf(portions: readonly PutOn[], shareOf: (portion: PutOn) => Range): Range {
  return portions.reduce((sum, portion) => {
    const { change, amountG } = portion.stage
    const share = shareOf(portion)
    const more = portion.amountG / amountG
    return {
      low: sum.low + change.low * share.low * more,
      typical: sum.typical + change.typical * share.typical * more,
      high: sum.high + change.high * share.high * more,
    }
  }, NO_CHANGE)
}
