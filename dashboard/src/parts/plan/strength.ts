import { parseNumber } from '../../number-field.ts'
import { say } from '../../say.ts'

/**
 * Strength of a product by its label: g of calcium carbonate that 1 g is worth. Empty: as usual (null).
 *
 * @param perWhole strength at 100 % of what the label states
 */
export function labelStrength(
  percent: string,
  perWhole: number,
): { readonly strength: number | null; readonly error: string | null } {
  if (percent.trim() === '') return { strength: null, error: null }
  const value = parseNumber(percent)
  if (value === null || value <= 0 || value > 200) {
    return { strength: null, error: say`expected per cent from 1 to 200, got '${percent.trim()}'` }
  }
  return { strength: (value / 100) * perWhole, error: null }
}
