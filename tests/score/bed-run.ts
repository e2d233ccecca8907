import { robustMean } from '#hub/analysis/aggregate/robust-mean.ts'
import { phSpread } from '#hub/analysis/aggregate/spread.ts'
import { DAY } from '#hub/model/clock.ts'
import type { Random } from '#hub/simulator/random.ts'

export const BED_CASES = [
  { name: '1 spot', spots: 1, faulty: false },
  { name: '2 spots', spots: 2, faulty: false },
  { name: '3 spots', spots: 3, faulty: false },
  { name: '4 spots', spots: 4, faulty: false },
  { name: '3 spots, one faulty', spots: 3, faulty: true },
  { name: '4 spots, one faulty', spots: 4, faulty: true },
] as const

const TRUTH = 6.5

/** A bed read by drifting electrodes in unequal spots: whether the bed's interval holds the truth. */
export function bedRun(
  random: Random,
  { spots, faulty }: { spots: number; faulty: boolean },
): { covered: number; halfWidth: number; error: number } {
  const days = random.between(0, 45)
  const values = Array.from(
    { length: spots },
    () =>
      TRUTH +
      random.normal(0, 0.15) +
      (random.normal(0.09, 0.08) * days) / 30 +
      random.normal(0, 0.05),
  )
  if (faulty) values[0]! += random.between(0.5, 2) * (random.chance(0.5) ? 1 : -1)
  const spread = phSpread(
    values.map(() => ({
      calibrationAgeMs: days * DAY,
      uncalibrated: false,
      moistureUnknown: false,
    })),
  )
  const { value, halfWidth } = robustMean(values, spread)
  const error = Math.abs(value - TRUTH)
  return { covered: error <= halfWidth ? 1 : 0, halfWidth, error }
}
