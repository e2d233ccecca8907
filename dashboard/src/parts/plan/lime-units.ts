/** International avoirdupois pound, g; square foot and acre, m2 (NIST Handbook 44, appendices B and C). */
const LB_G = 453.59237
const SQ_FT_M2 = 0.09290304
const ACRE_M2 = 43_560 * SQ_FT_M2

/** Units in which laboratories and labels say how much goes on how much ground, with the g/m2 in one of each. */
export const LIME_UNITS = [
  { unit: 'g/m2', words: 'g/m²', gM2: 1 },
  { unit: 'kg/100 m2', words: 'kg/100 m²', gM2: 10 },
  { unit: 't/ha', words: 't/ha (1000 kg)', gM2: 100 },
  { unit: 'lb/100 sq ft', words: 'lb/100 sq ft', gM2: LB_G / (100 * SQ_FT_M2) },
  { unit: 'lb/1000 sq ft', words: 'lb/1000 sq ft', gM2: LB_G / (1000 * SQ_FT_M2) },
  { unit: 'lb/acre', words: 'lb/acre', gM2: LB_G / ACRE_M2 },
] as const
export type LimeUnit = (typeof LIME_UNITS)[number]['unit']

/** From so many of a unit to g/m2. */
export function toGM2(value: number, unit: LimeUnit): number {
  return value * (LIME_UNITS.find((row) => row.unit === unit)?.gM2 ?? Number.NaN)
}
