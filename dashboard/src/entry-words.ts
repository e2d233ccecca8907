import type { Entry } from '../../hub/api/schemas/journal.ts'
import { amount, num } from './format.ts'
import type { Units } from './format.ts'
import { said } from './say.ts'
import { weightText } from './weight-words.ts'

/** An entry in one line of words. */
export function entryWords(entry: Entry, units: Units): string {
  const parts: string[] = []
  if (entry.material !== null) parts.push(said(entry.material))
  if (entry.amountG !== null) parts.push(weightText(entry.amountG, units))
  if (entry.waterL !== null) parts.push(amount('volume', entry.waterL, units))
  if (entry.probe !== null) parts.push(entry.probe)
  if (entry.ph !== null) parts.push(`pH ${num(entry.ph, 2, units)}`)
  if (entry.method !== null) parts.push(said(entry.method))
  const facts = parts.join(', ')
  return [facts, entry.text].filter((words) => words !== '').join(': ')
}
