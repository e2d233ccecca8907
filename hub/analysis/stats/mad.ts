import { median } from './median.ts'

/** Makes the median absolute deviation of normal data its standard deviation. */
const NORMAL = 1.4826

/** Median absolute deviation from the median, scaled to the standard deviation of normal data. NaN values are left out. */
export function mad(values: Iterable<number>): number {
  const all = Array.from(values)
  const centre = median(all)
  return NORMAL * median(all.map((value) => Math.abs(value - centre)))
}
