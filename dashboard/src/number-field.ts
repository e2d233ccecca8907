import { toShown } from './format.ts'
import type { Amount, Units } from './format.ts'
import { language, say } from './say.ts'

/** A number for an input field: plain digits behind the decimal sign of the language, no separators. */
export function fieldNumber(value: number | null | undefined): string {
  if (value === null || value === undefined) return ''
  return language() === 'en' ? String(value) : String(value).replace('.', ',')
}

/** An amount for an input field: plain digits, no separators, no more than nine significant ones. */
export function amountField(kind: Amount, stored: number | null, units: Units): string {
  if (stored === null) return ''
  return fieldNumber(Number(toShown(kind, stored, units).toPrecision(9)))
}

/** What someone typed as a number: a comma may stand for the point. Null when it is none. */
export function parseNumber(text: string): number | null {
  const plain = text.trim().replace('−', '-').replace(',', '.')
  if (!/^[-+]?(\d+(\.\d*)?|\.\d+)$/.test(plain)) return null
  return Number(plain)
}

/** What to say of text that is no number. */
export function notNumber(text: string): string {
  const came = text.trim()
  return came === '' ? say`give a number` : say`expected a number, got '${came}'`
}
