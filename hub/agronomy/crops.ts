import type { PhBand } from '../model/bed.ts'
import { BERRIES } from './crop-data/berries.ts'
import { COVER_CROPS } from './crop-data/cover-crops.ts'
import type { CropRow } from './crop-data/crop-row.ts'
import { FRUIT } from './crop-data/fruit.ts'
import { GROUP_STATEMENTS } from './crop-data/group-statements.ts'
import { HERBS } from './crop-data/herbs.ts'
import { ORNAMENTALS } from './crop-data/ornamentals.ts'
import { VEGETABLES } from './crop-data/vegetables.ts'
import { figure } from '../words/figure.ts'
import { said, say } from '../words/say.ts'
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
  /** In the language spoken. */
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

/** The table in English; a name is said where it is read. */
export const CROP_ROWS = [VEGETABLES, BERRIES, FRUIT, HERBS, ORNAMENTALS, COVER_CROPS].flat()

/**
 * The crop table. Every published figure keeps its source. The bulletins hardly ever state a method of
 * measuring, so all are taken as pH in water.
 */
export const CROPS: readonly Crop[] = CROP_ROWS.map((row) => ({
  slug: row.slug,
  get name() {
    return said(row.name)
  },
  category: row.category,
  band: row.band,
  get basis() {
    return basisOf(row)
  },
  published: [
    ...row.published.map((own) => ({
      low: own.low,
      high: own.high,
      source: sourceById(own.source),
      group: false,
      note: own.note,
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
  const lows = row.published.flatMap((own) => own.low ?? [])
  const highs = row.published.flatMap((own) => own.high ?? [])
  const n = row.published.length
  const [low, high] = [figure(Math.min(...lows), 1), figure(Math.max(...highs), 1)]
  const basis =
    n === 0
      ? say`A working band judged from statements about its group of plants only; not itself a published figure.`
      : lows.length > 0 && highs.length > 0
        ? n === 1
          ? say`A working band judged from one published figure between pH ${low} and ${high}; not itself a published figure.`
          : say`A working band judged from ${n} published figures between pH ${low} and ${high}; not itself a published figure.`
        : n === 1
          ? say`A working band judged from one published figure; not itself a published figure.`
          : say`A working band judged from ${n} published figures; not itself a published figure.`
  return row.disagreement !== null && row.disagreement > NOTABLE_DISAGREEMENT
    ? `${basis} ${say`The sources differ by up to ${figure(row.disagreement, 1)} on one edge.`}`
    : basis
}
