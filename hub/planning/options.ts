import type { Range } from '../model/plan.ts'
import type { BedFacts } from './bed-facts.ts'
import type { Buffering } from './buffering.ts'
import type { Need } from './need.ts'
import type { Told } from './told.ts'

/** One material of the table, for this bed and its need. */
export interface MaterialOption {
  /** Slug of the table of amendments. */
  readonly material: string
  readonly name: string
  readonly direction: 'raises' | 'lowers' | 'none' | 'unclear'
  readonly verdict: 'possible' | 'wait' | 'refused'
  /** What decided it, gravest first. */
  readonly told: readonly Told[]
  /** How strong the product is, g of calcium carbonate per g; null for what does not move pH. */
  readonly strength: Range | null
  /** What the label calls it: 'calcium carbonate equivalent', 'sulfur content'; and 1 g at 100 % of it. */
  readonly label: { readonly words: string; readonly perWhole: number } | null
  /** The whole way to the target, were it gone at once; null where no dose may be named. */
  readonly dose: {
    readonly gM2: Range
    readonly bedG: Range
    /** The arithmetic, one step a line. */
    readonly steps: readonly string[]
  } | null
  /** What it is known to do, and when. */
  readonly expected: string
  readonly cautions: readonly { readonly text: string; readonly source: string }[]
}

/** Every material of the table: the ones that can be used first, then those to wait for, then the refused. */
export function optionsFor(
  _facts: BedFacts,
  _need: Need,
  _buffering: Buffering | null,
): readonly MaterialOption[] {
  throw new Error('not there yet')
}
