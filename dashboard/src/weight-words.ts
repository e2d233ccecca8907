import type { RangeView } from '../../hub/api/schemas/planning.ts'
import { upTo } from './format.ts'
import type { Units } from './format.ts'
import { say } from './say.ts'

/** International avoirdupois pound, g; ounce a sixteenth of it (NIST Handbook 44, appendix B). */
export const LB_G = 453.59237
const OZ_G = LB_G / 16
/** From here on the larger unit of weight is easier to weigh by. */
const LARGE_G = { metric: 1000, us: 2 * LB_G }

interface Weight {
  readonly unit: string
  readonly size: number
  readonly decimals: number
}

function weightFor(grams: number, units: Units): Weight {
  if (grams >= LARGE_G[units]) {
    return units === 'us'
      ? { unit: 'lb', size: LB_G, decimals: 2 }
      : { unit: 'kg', size: 1000, decimals: 2 }
  }
  if (units === 'us') return { unit: 'oz', size: OZ_G, decimals: grams < 2 * OZ_G ? 2 : 1 }
  return { unit: 'g', size: 1, decimals: grams < 10 ? 1 : 0 }
}

/** No more digits than scales and doubt leave worth saying. */
export function sized(value: number, decimals: number, units: Units): string {
  return upTo(Number(value.toPrecision(3)), decimals, units)
}

/** A weight of a product as one would weigh it out: '840 g', '1.25 kg', '2.6 lb'. */
export function weightText(grams: number, units: Units): string {
  const { unit, size, decimals } = weightFor(grams, units)
  return `${sized(grams / size, decimals, units)}\u00a0${unit}`
}

/** A weight that is to be put on: what is said is never more than what was reckoned. */
export function portionText(grams: number, units: Units): string {
  const { unit, size, decimals } = weightFor(grams, units)
  const by = 10 ** decimals
  // What arithmetic left a hair below a whole step stays whole.
  return `${upTo(Math.floor((grams / size) * by + 1e-6) / by, decimals, units)}\u00a0${unit}`
}

/** Least to most in one unit: '0.62 to 1.9 kg'. */
export function weightRange({ low, high }: RangeView, units: Units): string {
  const { unit, size, decimals } = weightFor(high, units)
  return say`${sized(low / size, decimals, units)} to ${sized(high / size, decimals, units)}\u00a0${unit}`
}
