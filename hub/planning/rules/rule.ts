import type { Amendment } from '../../agronomy/amendments.ts'
import type { Dosing } from '../../agronomy/dosing.ts'
import type { BedFacts } from '../bed-facts.ts'
import type { Buffering } from '../buffering.ts'
import type { Need } from '../need.ts'
import type { Told } from '../told.ts'

/** A material held against one bed. */
export interface Case {
  readonly facts: BedFacts
  readonly need: Need
  readonly buffering: Buffering | null
  readonly row: Amendment
  /** Null for what is no means to move pH. */
  readonly dosing: Dosing | null
}

/** What one rule of the trade has to say; nothing when it does not apply. */
export type Rule = (of: Case) => readonly Told[]

const LIMING: ReadonlySet<string> = new Set([
  'ground-limestone',
  'dolomitic-limestone',
  'hydrated-lime',
  'wood-ash',
])
export function isLiming({ slug }: Amendment): boolean {
  return LIMING.has(slug)
}
