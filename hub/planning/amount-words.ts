import { hundredths } from '../analysis/format.ts'

/** '+0.45', '-0.3', '+1.0' */
export function changeText(ph: number): string {
  const size = hundredths(ph)
  return ph < 0 ? size : `+${size}`
}

/** '0.45 pH', '1.0 pH', without a sign. */
export function sizeText(ph: number): string {
  return `${hundredths(Math.abs(ph))} pH`
}
