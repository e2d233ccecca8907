import { DAY } from '../../model/clock.ts'
import type { Quantity } from '../../model/quantity.ts'
import type { Spread } from './robust-mean.ts'

/** Electrodes drift: standard deviation 0.08 pH in 30 days (found in open series of in-situ probes). */
const DRIFT_SD_PER_DAY = 0.08 / 30
/**
 * They drift the same way, by 0.09 pH in 30 days on average, and no number of spots averages that out. Its standard
 * deviation, so chosen that the 95 % interval of a bed of three or four spots holds the truth in 95 of 100.
 */
const COMMON_SD_PER_DAY = 0.06 / 30
/** An electrode nobody calibrated may be this far off: 30 mV is 0.5 pH, taken as two standard deviations. */
const UNCALIBRATED_SD = 0.25
/** Soil of unknown wetness may read low; widens the doubt. */
const UNKNOWN_MOISTURE_SD = 0.15
/** How far spots of one bed lie from its value, and how well one electrode reads. */
const SPOT_SD = 0.15
const READ_SD = 0.05

/** What is known of one pH value besides the value. */
export interface PhDoubt {
  /** Age of the calibration, ms; NaN when unknown. */
  readonly calibrationAgeMs: number
  readonly uncalibrated: boolean
  readonly moistureUnknown: boolean
}

/** Prior variance of one spot's pH about the bed value. */
function phVariance(doubt: PhDoubt): number {
  const days = Number.isFinite(doubt.calibrationAgeMs)
    ? Math.max(0, doubt.calibrationAgeMs) / DAY
    : 0
  return (
    SPOT_SD ** 2 +
    READ_SD ** 2 +
    // An old calibration is no worse than none.
    Math.min(UNCALIBRATED_SD, doubt.uncalibrated ? Infinity : DRIFT_SD_PER_DAY * days) ** 2 +
    (doubt.moistureUnknown ? UNKNOWN_MOISTURE_SD ** 2 : 0)
  )
}

/** Spread of the spots of a bed about its value, from what is known of each. */
export function phSpread(doubts: readonly PhDoubt[]): Spread {
  if (doubts.length === 0) return SPREAD.ph
  const mean = (of: (doubt: PhDoubt) => number): number =>
    doubts.reduce((sum, doubt) => sum + of(doubt), 0) / doubts.length
  const days = mean(({ calibrationAgeMs, uncalibrated }) =>
    uncalibrated || !Number.isFinite(calibrationAgeMs) ? 0 : Math.max(0, calibrationAgeMs) / DAY,
  )
  return {
    scale: SPREAD.ph.scale,
    variance: mean(phVariance),
    // Bounded like the rest of an old calibration's doubt.
    common: Math.min(UNCALIBRATED_SD, COMMON_SD_PER_DAY * days) ** 2,
  }
}

/** Scale and prior for each quantity; those of moisture and temperature are judgement. */
export const SPREAD: Readonly<Record<Quantity, Spread>> = {
  ph: { scale: SPOT_SD, variance: SPOT_SD ** 2 + READ_SD ** 2 },
  moisture: { scale: 0.06, variance: 0.06 ** 2 },
  temperature: { scale: 1, variance: 1 },
}
