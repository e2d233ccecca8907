/** A plant nutrient that is hard to get, or too easy, at a pH. */
export interface NutrientNote {
  readonly name: string
  /** What the pH does to it, in a clause. */
  readonly why: string
  readonly source: string
}

/** What a pH of the soil in water means for plant nutrients: which become hard to get, which too plentiful. */
export function nutrientsAt(_ph: number): readonly NutrientNote[] {
  throw new Error('not there yet')
}
