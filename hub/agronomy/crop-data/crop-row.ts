import type { PhBand } from '../../model/bed.ts'
import type { GroupStatementId } from './group-statements.ts'

/** One crop as it stands in the table. */
export interface CropRow {
  readonly slug: string
  readonly name: string
  readonly category: 'vegetable' | 'berry' | 'fruit' | 'herb' | 'ornamental' | 'cover'
  /** Working band: judged from the published figures, not itself published. */
  readonly band: PhBand
  /** Figures printed for this crop; null where a source gives only one edge. */
  readonly published: readonly {
    readonly source: string
    readonly low: number | null
    readonly high: number | null
    readonly note: string
  }[]
  /** Statements about a group this crop belongs to. */
  readonly groups: readonly GroupStatementId[]
  /** Largest difference between two of the crop's own sources on one edge, pH; null with fewer than two. */
  readonly disagreement: number | null
  /** Rooting depth in deep soil, m, and the share of available water that may be used before stress. */
  readonly roots: {
    readonly depthMinM: number
    readonly depthMaxM: number
    /** At 5 mm of crop water use a day. */
    readonly depletion: number
    readonly source: string
  } | null
}
