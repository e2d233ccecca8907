import type { Interval } from '../../hub/api/schemas/findings.ts'
import { num } from './format.ts'
import type { Units } from './format.ts'
import { say } from './say.ts'

/** How a value, and the width of its doubt, are written. */
export interface Writer {
  readonly value: (x: number) => string
  readonly width: (x: number) => string
  /** Written once, after the numbers; empty for pH. */
  readonly unit: string
}

/** A number that shows its sign, as changes do. */
export function signed(x: number | null | undefined, decimals: number, units: Units): string {
  const text = num(x, decimals, units)
  return typeof x === 'number' && x > 0 && /[1-9]/.test(text) ? `+${text}` : text
}

export const phWriter = (units: Units): Writer => ({
  value: (x) => num(x, 2, units),
  width: (x) => num(x, 2, units),
  unit: '',
})
export const phChangeWriter = (units: Units): Writer => ({
  ...phWriter(units),
  value: (x) => signed(x, 2, units),
})

/** Decimals that a doubt of such a width leaves worth showing. */
export function decimalsFor(width: number): number {
  if (!(width > 0)) return 1
  return width >= 2 ? 0 : width >= 0.2 ? 1 : 2
}

/**
 * Amounts that are not negative, with the decimals their doubt allows. `scale` is shown units in one stored
 * unit.
 */
export function amountWriter(x: Interval, unit: string, units: Units, scale = 1): Writer {
  const ends = [x.low, x.high].filter((end) => end !== null)
  const value = x.value ?? ends[0] ?? 0
  const width = ends.length === 0 ? value / 10 : Math.max(...ends.map((e) => Math.abs(e - value)))
  const write = (y: number): string => num(y * scale, decimalsFor(width * scale), units)
  return { value: write, width: write, unit }
}

const YEAR = 365.25
/** Lengths of time given in days: in days, or in years once these say it better. */
export function daysWriter(x: Interval, units: Units): Writer {
  const most = Math.max(x.value ?? 0, x.low ?? 0, x.high ?? 0)
  if (most >= 2 * YEAR) {
    const write = (y: number): string => num(y / YEAR, 1, units)
    return { value: write, width: write, unit: say`years` }
  }
  const write = (y: number): string => num(y, 0, units)
  return { value: write, width: write, unit: say`days` }
}

/** A value with its interval in words; open ends are said as such. */
export function withDoubt(x: Interval | null, { value, width, unit }: Writer): string {
  if (x === null) return say`not known`
  const { low, high } = x
  const after = unit === '' ? '' : ` ${unit}`
  if (x.value === null) {
    if (low !== null && high !== null) return say`between ${value(low)} and ${value(high)}${after}`
    if (low !== null) return say`at least ${value(low)}${after}`
    return high === null ? say`not known` : say`at most ${value(high)}${after}`
  }
  const middle = value(x.value)
  if (low === null && high === null) return say`${middle}${after}, doubt not known`
  if (high === null) return say`${middle}${after} (at least ${value(low ?? 0)})`
  if (low === null) return say`${middle}${after} (at most ${value(high)})`
  const below = width(x.value - low)
  const above = width(high - x.value)
  const nothing = !/[1-9]/.test(above)
  // A doubt that rounds to nothing is not said to be none.
  if (below === above && nothing)
    return low === high ? middle + after : say`about ${middle}${after}`
  if (below === above) return `${middle} ± ${above}${after}`
  return say`${middle}${after} (${value(low)} to ${value(high)})`
}

/** The largest effect that may have been missed, pH: rounded up, never down. */
export function atMost(x: number, units: Units): string {
  return num(Math.ceil(x * 100 - 1e-9) / 100, 2, units)
}

/** A length of time without doubt. */
export function daysWords(days: number, units: Units): string {
  if (days >= 2 * YEAR) return say`${num(days / YEAR, 1, units)} years`
  const whole = Math.round(days)
  return whole === 1 ? say`1 day` : say`${num(whole, 0, units)} days`
}

/** A chance or share, 0 to 1; never a certainty that rounding made up. */
export function percent(share: number | null, units: Units): string {
  if (share === null) return '–'
  if (share > 0 && share < 0.01) return say`under 1\u00a0%`
  if (share < 1 && share > 0.99) return say`over 99\u00a0%`
  return `${num(share * 100, 0, units)}\u00a0%`
}
