import { said } from '../words/say.ts'

/** A plant nutrient that is hard to get, or too easy, at a pH. */
export interface NutrientNote {
  readonly name: string
  /** What the pH does to it, in a clause. */
  readonly why: string
  readonly source: string
}

interface NutrientRow extends NutrientNote {
  /** Where it holds, pH in water: below or above this. */
  readonly holds: { readonly below: number } | { readonly above: number }
}

/**
 * Acid soil: the limit of 5.5 and that of 6 for legumes are printed in SCFU1986, of calcium common practice, no source.
 * Alkaline soil: the limit of 7 is printed for iron (KSU_IRON) and manganese (ALGL_MN); for the others the way is
 * published and the limit is common practice, no source.
 */
export const NUTRIENT_ROWS: readonly NutrientRow[] = [
  {
    name: 'nitrogen for peas, beans and clover',
    why: 'is scarce, because most of the bacteria in their root nodules bear little acid',
    source: 'SCFU1986',
    holds: { below: 6 },
  },
  {
    name: 'nitrogen from humus and compost',
    why: 'comes slowly, because soil life that frees it is less active in acid',
    source: 'SCFU1986',
    holds: { below: 5.5 },
  },
  {
    name: 'phosphorus',
    why: 'is hard to get, bound by aluminum and iron',
    source: 'SCFU1986',
    holds: { below: 5.5 },
  },
  {
    name: 'magnesium',
    why: 'is often scarce in very acid soil',
    source: 'SCFU1986',
    holds: { below: 5.5 },
  },
  {
    name: 'calcium',
    why: 'is lower in acid soil, though seldom so low that plants lack it',
    source: 'CIMMYT_NUT',
    holds: { below: 5.5 },
  },
  {
    name: 'molybdenum',
    why: 'is hard to get, because less of it dissolves the more acid the soil is',
    source: 'SCFU1986',
    holds: { below: 5.5 },
  },
  {
    name: 'aluminum',
    why: 'dissolves and may poison roots',
    source: 'SCFU1986',
    holds: { below: 5.5 },
  },
  {
    name: 'manganese',
    why: 'dissolves and may become too plentiful',
    source: 'SCFU1986',
    holds: { below: 5.5 },
  },
  {
    name: 'iron',
    why: 'dissolves and may become too plentiful, above all in wet soil',
    source: 'SCFU1986',
    holds: { below: 5.5 },
  },
  {
    name: 'iron',
    why: 'is hard to get, because it turns into forms that do not dissolve',
    source: 'KSU_IRON',
    holds: { above: 7 },
  },
  {
    name: 'manganese',
    why: 'is much harder to get than around 6.5',
    source: 'ALGL_MN',
    holds: { above: 7 },
  },
  {
    name: 'zinc',
    why: 'is more often lacking in alkaline soil',
    source: 'CIMMYT_NUT',
    holds: { above: 7 },
  },
  {
    name: 'copper',
    why: 'is the harder to get the higher the pH',
    source: 'SHUMAN',
    holds: { above: 7 },
  },
  {
    name: 'boron',
    why: 'is the harder to get the higher the pH',
    source: 'SHUMAN',
    holds: { above: 7 },
  },
  {
    name: 'phosphorus',
    why: 'is hard to get, bound to calcium',
    source: 'PRASAD2021',
    holds: { above: 7.5 },
  },
]

/**
 * What a pH of the soil in water means for plant nutrients: which become hard to get, which too plentiful. Empty where
 * nothing of the kind is known, as around 6.5, which is held to be best for most (CORNELL_PO39).
 */
export function nutrientsAt(ph: number): readonly NutrientNote[] {
  return NUTRIENT_ROWS.filter(({ holds }) =>
    'below' in holds ? ph < holds.below : ph > holds.above,
  ).map(({ name, why, source }) => ({ name: said(name), why: said(why), source }))
}
