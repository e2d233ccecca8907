import { fixed } from '../words/figure.ts'
import { say } from '../words/say.ts'

/** pH with one decimal, as a gardener speaks of it. */
export function ph1(ph: number): string {
  return fixed(ph, 1)
}

export function bandText(band: { readonly low: number; readonly high: number }): string {
  return say`${hundredths(band.low)} to ${hundredths(band.high)}`
}

/** pH with two decimals, or one where the second is nothing: '6.45', '6.0'. */
export function hundredths(ph: number): string {
  const two = fixed(ph, 2)
  return two.endsWith('0') ? two.slice(0, -1) : two
}
