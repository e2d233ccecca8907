import type { Range } from '../model/plan.ts'
import type { BedFacts } from './bed-facts.ts'
import type { Evidence } from './buffering/evidence.ts'
import { jarEvidence } from './buffering/jar-evidence.ts'
import { laboratoryEvidence } from './buffering/laboratory-evidence.ts'
import { combineRanges } from './buffering/log-range.ts'
import { textureEvidence } from './buffering/texture-evidence.ts'
import { treatmentEvidence } from './buffering/treatment-evidence.ts'
import { listed } from '../words/figure.ts'
import { depthText, groundMass, groundRange, onGround } from '../words/amount.ts'
import { said, say, toSay } from '../words/say.ts'

export const BUFFERING_KINDS = ['treatments here', 'jar test', 'laboratory', 'texture'] as const

/** How strongly a bed holds its pH: pure calcium carbonate, g/m2, that moves it by one pH over its worked depth. */
export interface Buffering {
  readonly gM2PerPh: Range
  /** What it rests on, what weighs most first. */
  readonly parts: readonly {
    readonly kind: (typeof BUFFERING_KINDS)[number]
    readonly gM2PerPh: Range
    /** Share in the whole, 0 to 1. */
    readonly weight: number
    readonly sentence: string
    readonly sources: readonly string[]
  }[]
  readonly sentence: string
}

const ALL_EVIDENCE = [treatmentEvidence, jarEvidence, laboratoryEvidence, textureEvidence] as const
/** From here on the sources are said to contradict each other. */
const CONTRADICT = 1.5

/**
 * Null when neither texture nor test nor treatment says anything. `way`: lime and sulfur tables differ. Each source is
 * a log-normal; they are combined by precision, and a table of other soils counts for less than what was seen on this
 * bed.
 */
export function bufferingOf(facts: BedFacts, way: 'raise' | 'lower'): Buffering | null {
  const found = ALL_EVIDENCE.flatMap((of) => of(facts, way))
  const [only] = found
  if (only === undefined) return null
  const { range, weights, apart } =
    found.length === 1
      ? { range: only.gM2PerPh, weights: [1], apart: 0 }
      : combineRanges(found.map(({ counts }) => counts))
  const parts = found
    .map(({ kind, gM2PerPh, sentence, sources }, i) => ({
      kind,
      gM2PerPh,
      weight: weights[i]!,
      sentence,
      sources,
    }))
    .toSorted((a, b) => b.weight - a.weight)
  const rests =
    apart >= CONTRADICT
      ? `${restsOn(found)} ${say`They contradict each other, so the range is wider: another test would settle it.`}`
      : restsOn(found)
  return {
    gM2PerPh: range,
    parts,
    sentence:
      way === 'lower'
        ? say`About ${groundMass(range.typical)} of pure lime ${onGround()} (${groundRange(range)}) moves this bed by one pH over its ${depthText(facts.bed.depthM)}, and as much acid the other way. ${rests}`
        : say`About ${groundMass(range.typical)} of pure lime ${onGround()} (${groundRange(range)}) moves this bed by one pH over its ${depthText(facts.bed.depthM)}. ${rests}`,
  }
}

const WORDS: Readonly<Record<(typeof BUFFERING_KINDS)[number], string>> = {
  'treatments here': toSay('what treatments did here'),
  'jar test': toSay('your jar test'),
  laboratory: toSay('the laboratory'),
  texture: toSay('its texture'),
}

function restsOn(found: readonly Evidence[]): string {
  const kinds = BUFFERING_KINDS.filter((kind) => found.some((one) => one.kind === kind))
  const only = kinds.length === 1 && kinds[0] === 'texture'
  return only
    ? say`By ${listed(kinds.map((kind) => said(WORDS[kind])))} alone, which tells it only roughly.`
    : say`By ${listed(kinds.map((kind) => said(WORDS[kind])))}.`
}
