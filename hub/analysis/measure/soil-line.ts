import type { MoistureCalibration } from '../../model/probe.ts'

/** Water by volume along a probe's own range, m3/m3. */
export interface SoilLine {
  /** At its dry and its wet point. */
  readonly dry: number
  readonly wet: number
  /** Farthest soil point off the line. */
  readonly residual: number
}

/** Water the driest and the wettest soil point must lie apart, m3/m3; nearer, their errors make the line. Judgement. */
export const LEAST_WATER_APART = 0.05

/**
 * The line of least squares through soils of known water, over the share of the probe's range. Null with fewer than
 * two, with points too near each other, or when it does not rise with water.
 */
export function soilLine({
  dryRaw,
  wetRaw,
  soilPoints = [],
}: Pick<MoistureCalibration, 'dryRaw' | 'wetRaw' | 'soilPoints'>): SoilLine | null {
  const n = soilPoints.length
  const waters = soilPoints.map(({ vwc }) => vwc)
  // A hair's breadth of rounding: 0.15 and 0.10 are 0.05 apart.
  if (n < 2 || Math.max(...waters) - Math.min(...waters) < LEAST_WATER_APART - 1e-9) return null
  const shares = soilPoints.map(({ raw }) => (dryRaw - raw) / (dryRaw - wetRaw))
  const share = shares.reduce((sum, value) => sum + value, 0) / n
  const water = waters.reduce((sum, value) => sum + value, 0) / n
  let square = 0
  let cross = 0
  for (const [i, own] of shares.entries()) {
    square += (own - share) ** 2
    cross += (own - share) * (waters[i]! - water)
  }
  const rise = cross / square
  if (!(rise > 0) || !Number.isFinite(rise)) return null
  const dry = water - rise * share
  return {
    dry,
    wet: dry + rise,
    residual: Math.max(...shares.map((own, i) => Math.abs(dry + rise * own - waters[i]!))),
  }
}
