import type { MoistureCalibration } from '../../model/probe.ts'

/**
 * Share of the probe's own dry-to-wet range, 0 at the dry point and 1 at the wet point, clipped to that.
 * NaN without a calibration or when both points are the same: a raw count alone tells nothing.
 */
export function relativeMoisture(calibration: MoistureCalibration | null, raw: number): number {
  if (calibration === null || calibration.dryRaw === calibration.wetRaw) return NaN
  const share = (calibration.dryRaw - raw) / (calibration.dryRaw - calibration.wetRaw)
  return Math.min(1, Math.max(0, share))
}
