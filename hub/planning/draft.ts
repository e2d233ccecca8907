import type { NewPlan, Range } from '../model/plan.ts'
import type { BedFacts } from './bed-facts.ts'
import type { Buffering } from './buffering.ts'
import type { Need } from './need.ts'
import type { MaterialOption } from './options.ts'
import type { Told } from './told.ts'

/** A plan as it would be kept. */
export interface Draft {
  readonly plan: NewPlan
  /** Where the bed is expected to end up, pH. */
  readonly ends: Range
  /** Expected pH from today on: week by week, lowest, most likely, highest. */
  readonly course: {
    readonly time: Float64Array
    readonly low: Float64Array
    readonly typical: Float64Array
    readonly high: Float64Array
  }
  readonly told: readonly Told[]
  readonly sentence: string
  readonly grounds: readonly string[]
}

/**
 * A staged series of small treatments. No stage may move the bed by more than half a pH as far as it is likely, nor by
 * one pH in the worst case; none comes before the one before has shown what it does.
 *
 * @param strength g of calcium carbonate per g of the product, from its label; null: as usual
 * @returns why not, when the material cannot be used for this bed or its dose is not known
 */
export function draftPlan(
  _facts: BedFacts,
  _need: Need,
  _buffering: Buffering | null,
  _option: MaterialOption,
  _strength: number | null,
): Draft | { readonly refused: readonly Told[] } {
  throw new Error('not there yet')
}
