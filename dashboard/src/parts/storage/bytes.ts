import { num } from '../../format.ts'
import type { Units } from '../../format.ts'

const UNITS = ['B', 'kB', 'MB', 'GB', 'TB'] as const

/** An amount of bytes with about two digits, by the decimal prefixes of the SI. */
export function bytes(amount: number, units: Units): string {
  let size = amount
  let unit = 0
  while (Math.abs(size) >= 999.5 && unit < UNITS.length - 1) {
    size /= 1000
    unit++
  }
  const digits = unit === 0 || Math.abs(size) >= 99.5 ? 0 : Math.abs(size) >= 9.95 ? 1 : 2
  return `${num(size, digits, units)} ${UNITS[unit]}`
}
