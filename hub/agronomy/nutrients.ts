/** A plant nutrient that is hard to get, or too easy, at a pH. */
export interface NutrientNote {
  readonly name: string
  /** What the pH does to it, in a clause. */
  readonly why: string
  readonly source: string
}

interface NutrientRow extends NutrientNote {
  /** Holds where the pH in water is below this. */
  readonly below: number | null
  /** Holds where the pH in water is above this. */
  readonly above: number | null
}

const ROWS: readonly NutrientRow[] = []

/** What a pH of the soil in water means for plant nutrients: which become hard to get, which too plentiful. */
export function nutrientsAt(ph: number): readonly NutrientNote[] {
  return ROWS.filter(
    ({ below, above }) => (below !== null && ph < below) || (above !== null && ph > above),
  ).map(({ name, why, source }) => ({ name, why, source }))
}
