import type { RangeView } from '../../../../hub/api/schemas/planning.ts'
import { num } from '../../format.ts'
import type { Units } from '../../format.ts'
import { say } from '../../say.ts'
import { LB_G, sized } from '../../weight-words.ts'

/** Square foot, m2 (NIST Handbook 44, appendix C). */
const SQ_FT_M2 = 0.09290304

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
