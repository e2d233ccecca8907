import type { EffectQuestion } from '../../analysis/amendment/dose-effect.ts'
import type { MaterialComparison } from '../../analysis/amendment/compare-effects.ts'
import type { Comparison } from '../schemas/findings.ts'
import { said, say, toSay } from '../../words/say.ts'

const HELD: Readonly<Record<EffectQuestion, string>> = {
  'advantage over untreated': toSay('Each treatment is held against beds without one.'),
  'above where it was': toSay('Each treatment is held against where its bed was before it.'),
}

/** What materials did across beds, one row each. */
export function comparisonView(
  rows: readonly MaterialComparison[],
  question: EffectQuestion,
): Comparison {
  return {
    rows: rows.map(({ material, treatments, peak, halfLife, sentence }) => ({
      material,
      treatments: treatments.length,
      peak: peak.status === 'ok' ? { ...peak.span } : null,
      halfLifeDays: halfLife.status === 'ok' ? { ...halfLife.span } : null,
      beds: Array.from(new Set(treatments.map(({ bed }) => bed))),
      sentence,
    })),
    sentence:
      rows.length === 0
        ? say`No treatment has been followed yet: write in the journal of a bed what you put on, and measure on.`
        : say`${said(HELD[question])} Means over several treatments say what is usual, not what the next one will do.`,
  }
}
