import type { PhBand } from '../model/bed.ts'
import { BERRIES } from './crop-data/berries.ts'
import { COVER_CROPS } from './crop-data/cover-crops.ts'
import type { CropRow } from './crop-data/crop-row.ts'
import { FRUIT } from './crop-data/fruit.ts'
import { GROUP_STATEMENTS } from './crop-data/group-statements.ts'
import { HERBS } from './crop-data/herbs.ts'
import { ORNAMENTALS } from './crop-data/ornamentals.ts'
import { VEGETABLES } from './crop-data/vegetables.ts'
import { type Source, sourceById } from './sources.ts'

interface PublishedBand {
  /** Null where the source gives only one edge. */
  readonly low: number | null
  readonly high: number | null
  readonly source: Source
  /** True for a statement about a group of crops, not this crop. */
  readonly group: boolean
  readonly note: string
}

export interface Crop {
  readonly slug: string
  readonly name: string
  readonly category: CropRow['category']
  /** Working band on the water-pH scale. */
  readonly band: PhBand
  /** Where the working band comes from, in words. */
  readonly basis: string
  readonly published: readonly PublishedBand[]
  /** Largest difference between two of the crop's own sources on one edge, pH. */
  readonly disagreement: number | null
  readonly roots: CropRow['roots']
}

/** Sources that differ by more than this on one edge are worth a word, pH. */
const NOTABLE_DISAGREEMENT = 0.5

const ROWS = [VEGETABLES, BERRIES, FRUIT, HERBS, ORNAMENTALS, COVER_CROPS].flat()

/**
 * The crop table. Every published figure keeps its source. The bulletins hardly ever state a method of
 * measuring, so all are taken as pH in water.
 */
export const CROPS: readonly Crop[] = ROWS.map((row) => ({
  slug: row.slug,
  name: row.name,
  category: row.category,
  band: row.band,
  basis: basisOf(row),
  published: [
    ...row.published.map((figure) => ({
      low: figure.low,
      high: figure.high,
      source: sourceById(figure.source),
      group: false,
      note: figure.note,
    })),
    ...row.groups.map((id) => {
      const { low, high, source, note } = GROUP_STATEMENTS[id]
      return { low, high, source: sourceById(source), group: true, note }
    }),
  ],
  disagreement: row.disagreement,
  roots: row.roots,
}))

const bySlug = new Map(CROPS.map((crop) => [crop.slug, crop]))

/** The crop with this slug, or undefined when the table does not know it. */
export function cropBySlug(slug: string): Crop | undefined {
  return bySlug.get(slug)
}

function basisOf(row: CropRow): string {
  const lows = row.published.flatMap((figure) => figure.low ?? [])
  const highs = row.published.flatMap((figure) => figure.high ?? [])
  const figures =
    row.published.length === 0
      ? 'statements about its group of plants only'
      : lows.length > 0 && highs.length > 0
        ? `${counted(row.published.length)} between pH ${oneDecimal(Math.min(...lows))} and ${oneDecimal(Math.max(...highs))}`
        : counted(row.published.length)
  const apart =
    row.disagreement !== null && row.disagreement > NOTABLE_DISAGREEMENT
      ? ` The sources differ by up to ${oneDecimal(row.disagreement)} on one edge.`
      : ''
  return `A working band judged from ${figures}; not itself a published figure.${apart}`
}

function counted(n: number): string {
  return n === 1 ? 'one published figure' : `${n} published figures`
}

function oneDecimal(ph: number): string {
  return String(Math.round(ph * 10) / 10)
}
