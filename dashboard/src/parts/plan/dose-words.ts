import type { RangeView } from '../../../../hub/api/schemas/planning.ts'
import { num, upTo } from '../../format.ts'
import type { Units } from '../../format.ts'
import { say } from '../../say.ts'

/** International avoirdupois pound, g; ounce a sixteenth of it; square foot, m2 (NIST Handbook 44, appendix C). */
const LB_G = 453.59237
const OZ_G = LB_G / 16
const SQ_FT_M2 = 0.09290304
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
  if (units === 'us') return { unit: 'oz', size: OZ_G, decimals: 1 }
  return { unit: 'g', size: 1, decimals: grams < 10 ? 1 : 0 }
}

/** No more digits than scales and doubt leave worth saying. */
function sized(value: number, decimals: number, units: Units): string {
  return upTo(Number(value.toPrecision(3)), decimals, units)
}

/** A weight of a product as one would weigh it out: '840 g', '1.25 kg', '2.6 lb'. */
export function weightText(grams: number, units: Units): string {
  const { unit, size, decimals } = weightFor(grams, units)
  return `${sized(grams / size, decimals, units)}\u00a0${unit}`
}

/** Least to most in one unit: '0.62 to 1.9 kg'. */
export function weightRange({ low, high }: RangeView, units: Units): string {
  const { unit, size, decimals } = weightFor(high, units)
  return say`${sized(low / size, decimals, units)} to ${sized(high / size, decimals, units)}\u00a0${unit}`
}

interface Spread {
  readonly unit: string
  /** g/m2 in one of it. */
  readonly size: number
  readonly decimals: number
}
const SPREADS: Readonly<Record<Units, Spread>> = {
  metric: { unit: 'g/m²', size: 1, decimals: 0 },
  us: { unit: 'lb/100 sq ft', size: LB_G / (100 * SQ_FT_M2), decimals: 2 },
}

/** So much on so much ground, as the gardener measures: '120 g/m²', '2.46 lb/100 sq ft'. */
export function spreadText(gM2: number, units: Units): string {
  const { unit, size, decimals } = SPREADS[units]
  return `${sized(gM2 / size, gM2 < 10 ? decimals + 1 : decimals, units)}\u00a0${unit}`
}
export function spreadRange({ low, high }: RangeView, units: Units): string {
  const { unit, size, decimals } = SPREADS[units]
  const of = (x: number): string => sized(x / size, high < 10 ? decimals + 1 : decimals, units)
  return say`${of(low)} to ${of(high)}\u00a0${unit}`
}

/** A change of pH as a range from the smaller to the larger: '+0.31 to +0.74'. */
export function changeRange({ low, high }: RangeView, units: Units): string {
  const of = (x: number): string => (x > 0 ? `+${num(x, 2, units)}` : num(x, 2, units))
  return say`${of(low)} to ${of(high)}`
}
