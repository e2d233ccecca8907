const NUMBER = /^[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?$/
/** Words that programs write where a sensor was tried and failed. */
const FAILED = /^(nan|na|n\/a|null|none)$/i

/**
 * The number in a cell. NaN: the sensor was tried and failed; null: nothing was measured; undefined: neither.
 *
 * @param decimal what stands before the fraction
 */
export function readNumber(cell: string, decimal: '.' | ','): number | null | undefined {
  const text = cell.trim()
  if (text === '') return null
  if (FAILED.test(text)) return NaN
  if (decimal === ',' && text.includes('.')) return undefined
  // A spreadsheet puts a quote before what begins like a formula.
  const plain = (decimal === ',' ? text.replace(',', '.') : text).replace(/^'(?=[+-])/, '')
  if (!NUMBER.test(plain)) return undefined
  const value = Number(plain)
  return Number.isFinite(value) ? value : undefined
}
