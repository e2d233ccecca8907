import type { Climate } from './weather.ts'

/** Mild wet winters, dry summers: an Atlantic coast at 39 degrees north. Numbers from memory. */
export const ATLANTIC_COAST: Climate = {
  meanC: 16.5,
  yearC: 7,
  dayC: 4.5,
  warmingDay: 115,
  diffusivity: 5e-7,
  wetAfterDry: [0.24, 0.03],
  wetAfterWet: [0.58, 0.2],
  wetDayMm: 6,
  et0Mm: [3.1, 2],
  solarOffsetH: -0.6,
}
