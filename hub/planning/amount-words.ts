import type { Range } from '../model/plan.ts'

/** '5 g', '1.25 kg': as much as is sensible to say. */
export function gramsText(grams: number): string {
  if (grams < 10) return `${Math.round(grams * 10) / 10} g`
  if (grams < 1000) return `${Math.round(grams)} g`
  return `${Math.round(grams / 10) / 100} kg`
}

/** '290 to 520 g' */
export function rangeText({ low, high }: Range): string {
  const [from, to] = [gramsText(low), gramsText(high)]
  const unit = to.slice(to.indexOf(' '))
  return `${from.endsWith(unit) ? from.slice(0, -unit.length) : from} to ${to}`
}

/** '+0.45', '-0.3', '+1.0' */
export function changeText(ph: number): string {
  return `${ph < 0 ? '-' : '+'}${hundredths(ph)}`
}

/** '0.45 pH', '1.0 pH', without a sign. */
export function sizeText(ph: number): string {
  return `${hundredths(ph)} pH`
}

function hundredths(ph: number): string {
  const two = Math.abs(ph).toFixed(2)
  return two.endsWith('0') ? two.slice(0, -1) : two
}
