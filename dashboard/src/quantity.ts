import type { Quantity } from '../../hub/model/quantity.ts'
import { num, toShown, unitName } from './format.ts'
import type { Units } from './format.ts'
import { say } from './say.ts'

/** How one quantity is written for the gardener. */
export interface Shown {
  readonly words: string
  readonly unit: string
  readonly decimals: number
  readonly shown: (stored: number) => number
  /** A half-width: scaled, not shifted. */
  readonly scaled: (width: number) => number
}

/** Moisture is shown in per cent, temperature in the gardener's degrees, pH as it is. */
export function shownAs(quantity: Quantity, units: Units): Shown {
  switch (quantity) {
    case 'ph':
      return { words: 'pH', unit: '', decimals: 2, shown: (x) => x, scaled: (x) => x }
    case 'moisture':
      return {
        words: say`Moisture`,
        unit: '%',
        decimals: 0,
        shown: (x) => x * 100,
        scaled: (x) => x * 100,
      }
    case 'temperature':
      return {
        words: say`Soil temperature`,
        unit: unitName('temperature', units),
        decimals: 1,
        shown: (x) => toShown('temperature', x, units),
        scaled: (x) => toShown('temperature', x, units) - toShown('temperature', 0, units),
      }
  }
}

/** A shown value with its unit. */
export function withUnit(value: number | null | undefined, as: Shown, units: Units): string {
  const text = num(value, as.decimals, units)
  return as.unit === '' || text === '–' ? text : `${text} ${as.unit}`
}
