import type { MaterialComparison } from '../../analysis/amendment/compare-effects.ts'
import type { Comparison } from '../schemas/findings.ts'

/** What materials did across beds, one row each. */
export function comparisonView(rows: readonly MaterialComparison[]): Comparison {
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
        ? 'No treatment has been followed yet: write in the journal of a bed what you put on, and measure on.'
        : 'Each treatment is held against where its bed was before it. Means over several treatments say what is usual, not what the next one will do.',
  }
}
