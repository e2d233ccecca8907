/**
 * False signals a spot-year to expect from noise alone, by the standard deviation of the hourly deviations and their
 * correlation from one hour to the next: simulated with the chart in use (reference 0.30, limit 1.5, two-sided,
 * normal first-order noise), about 0.1 off at the low end. White-noise run lengths are wrong here by factors of
 * ten to ten thousand. Dips after rain, handling and wild values come on top.
 */
const SD = [0.08, 0.12, 0.16, 0.2]
const PHI = [0.8, 0.9, 0.95, 0.98]
const PER_YEAR = [
  [0, 0, 0, 0.004],
  [0, 0.07, 0.33, 0.55],
  [0.5, 2.5, 5.1, 5.8],
  [6.4, 15, 20, 18],
]
/** Up to here the chart is as simulated; noisier spots get a wider one, which keeps the rate of this row. */
const WIDENS_AT = 0.12

/** Expected false signals a year, NaN while the noise is not known. Linear between the rows. */
export function expectedFalse(sd: number, phi: number): number {
  if (Number.isNaN(sd) || Number.isNaN(phi)) return NaN
  const row = position(SD, Math.min(sd, WIDENS_AT))
  const column = position(PHI, phi)
  const at = (r: number, c: number): number => PER_YEAR[r]![c]!
  const across = (r: number): number =>
    at(r, column.below) * (1 - column.share) + at(r, column.above) * column.share
  return across(row.below) * (1 - row.share) + across(row.above) * row.share
}

function position(
  steps: readonly number[],
  value: number,
): { below: number; above: number; share: number } {
  const last = steps.length - 1
  if (value <= steps[0]!) return { below: 0, above: 0, share: 0 }
  if (value >= steps[last]!) return { below: last, above: last, share: 0 }
  const above = steps.findIndex((step) => step > value)
  const low = steps[above - 1]!
  return { below: above - 1, above, share: (value - low) / (steps[above]! - low) }
}
