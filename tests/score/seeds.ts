/**
 * Where the random numbers of the score come from. Methods are tuned on `tuning` alone; what is told of them is
 * counted on `scoring`, which nobody looks at while tuning. The two never meet: each part of the score stays
 * within its own million.
 */
export const SEED_SETS = {
  tuning: 100_000_000,
  scoring: 900_000_000,
} as const
export type SeedSet = keyof typeof SEED_SETS

const PARTS = {
  eventful: 0,
  quiet: 1,
  further: 2,
  noise: 3,
  trend: 4,
  electrode: 5,
  response: 6,
  bed: 7,
  forecast: 8,
  coarse: 9,
  review: 10,
  portion: 11,
} as const
export type SeededPart = keyof typeof PARTS

const PER_PART = 1_000_000
const PER_CELL = 10_000

/**
 * @param cell number of the case within its part, from 0 (number of spots for beds)
 * @param run number of the run within its cell, from 0 to 9999
 */
export function seedOf(set: SeedSet, part: SeededPart, cell: number, run: number): number {
  if (cell >= PER_PART / PER_CELL || run >= PER_CELL) {
    throw new RangeError(`cell ${cell}, run ${run}: seeds of two cases would meet`)
  }
  return SEED_SETS[set] + PARTS[part] * PER_PART + cell * PER_CELL + run
}
