import type { MoistureCalibration } from '../../model/probe.ts'
import type { SoilLine } from './soil-line.ts'

/**
 * Share of the probe's own dry-to-wet range, 0 at the dry point and 1 at the wet point, clipped to that.
 * NaN without a calibration or when both points are the same: a raw count alone tells nothing.
 */
export function relativeMoisture(calibration: MoistureCalibration | null, raw: number): number {
  if (calibration === null || calibration.dryRaw === calibration.wetRaw) return NaN
  const share = (calibration.dryRaw - raw) / (calibration.dryRaw - calibration.wetRaw)
  return Math.min(1, Math.max(0, share))
}

/**
 * What a raw value says of the soil: water by volume where a line through the gardener's own soils is known, else the
 * share of the range. Neither goes beyond the dry and the wet point, and no water is less than none.
 */
export function soilMoisture(
  calibration: MoistureCalibration | null,
  soil: SoilLine | null,
  raw: number,
): number {
  const share = relativeMoisture(calibration, raw)
  if (soil === null) return share
  return Math.max(0, soil.dry + share * (soil.wet - soil.dry))
}
