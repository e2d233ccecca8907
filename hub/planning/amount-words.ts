import { hundredths } from '../analysis/format.ts'
import type { Range } from '../model/plan.ts'
import { figure } from '../words/figure.ts'
import { say } from '../words/say.ts'

/** '5 g', '1.25 kg': as much as is sensible to say. */
export function gramsText(grams: number): string {
  if (grams < 10) return `${figure(grams, 1)} g`
  if (grams < 1000) return `${Math.round(grams)} g`
  return `${figure(grams / 1000, 2)} kg`
}

/** '290 to 520 g' */
export function rangeText({ low, high }: Range): string {
  const [from, to] = [gramsText(low), gramsText(high)]
  const unit = to.slice(to.indexOf(' '))
  return say`${from.endsWith(unit) ? from.slice(0, -unit.length) : from} to ${to}`
}

/** '+0.45', '-0.3', '+1.0' */
export function changeText(ph: number): string {
  const size = hundredths(ph)
  return ph < 0 ? size : `+${size}`
}

/** '0.45 pH', '1.0 pH', without a sign. */
export function sizeText(ph: number): string {
  return `${hundredths(Math.abs(ph))} pH`
}
