import { AMENDMENTS, expectedOf } from '../agronomy/amendments.ts'
import { type Dosing, dosingOf } from '../agronomy/dosing.ts'
import type { Range } from '../model/plan.ts'
import type { BedFacts } from './bed-facts.ts'
import type { Buffering } from './buffering.ts'
import { doseOf } from './dose.ts'
import { capsOn } from './limits.ts'
import type { Need } from './need.ts'
import { roundedDown } from './portions.ts'
import { POINTLESS, RULES } from './rules/all-rules.ts'
import type { Case } from './rules/rule.ts'
import { byGravity, isFree, mayPlan, type Told } from './told.ts'
import { said } from '../words/say.ts'

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
  /** The most of it that may go on in a year, where that is less than the whole way takes; null otherwise. */
  readonly most: { readonly gM2: number; readonly bedG: number } | null
  /** What it is known to do, and when. */
  readonly expected: string
  readonly cautions: readonly { readonly text: string; readonly source: string }[]
}

const ORDER = ['possible', 'wait', 'refused'] as const

/** Every material of the table: the ones that can be used first, then those to wait for, then the refused. */
export function optionsFor(
  facts: BedFacts,
  need: Need,
  buffering: Buffering | null,
): readonly MaterialOption[] {
  const options = AMENDMENTS.map((row): MaterialOption => {
    const dosing = dosingOf(row.slug)
    const told = toldOf({ facts, need, buffering, row, dosing })
    const dose =
      dosing !== null && buffering !== null && mayPlan(told)
        ? doseOf(facts, need, buffering, dosing)
        : null
    return {
      material: row.slug,
      name: row.name,
      direction: row.direction,
      verdict: verdictOf(told),
      told,
      strength:
        dosing === null
          ? null
          : { low: dosing.acts.low, typical: dosing.acts.typical, high: dosing.acts.high },
      label: dosing === null ? null : { ...dosing.label, words: said(dosing.label.words) },
      dose,
      most: dosing === null || dose === null ? null : mostOf(facts, dosing, dose.gM2.typical),
      expected: expectedOf(row),
      cautions: (dosing?.cautions ?? []).map(({ text, source }) => ({ text: said(text), source })),
    }
  })
  return options.toSorted((a, b) => ORDER.indexOf(a.verdict) - ORDER.indexOf(b.verdict))
}

/** The smallest cap of a year, when it is less than the whole way takes. */
function mostOf(facts: BedFacts, dosing: Dosing, wholeGM2: number): MaterialOption['most'] {
  const caps = capsOn(facts, dosing, facts.at).filter(({ per }) => per === 'year')
  const gM2 = Math.min(...caps.map((cap) => cap.gM2))
  return gM2 < wholeGM2 ? { gM2, bedG: roundedDown(gM2 * facts.bed.areaM2) } : null
}

/** Of what is no means for this bed anyway, and of what is refused, nothing more is said. */
function toldOf(of: Case): readonly Told[] {
  const never = POINTLESS.flatMap((rule) => rule(of))
  if (never.length > 0) return never
  const told = RULES.flatMap((rule) => rule(of))
  const refused = told.filter(({ effect }) => effect === 'refuse')
  return refused.length > 0 ? refused : byGravity(told)
}

function verdictOf(told: readonly Told[]): MaterialOption['verdict'] {
  if (told.some(({ effect }) => effect === 'refuse')) return 'refused'
  return isFree(told) ? 'possible' : 'wait'
}
