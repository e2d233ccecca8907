import { civil, instant } from '../../zone.ts'

/** A month of the garden's calendar; month 1..12. */
export interface Month {
  readonly year: number
  readonly month: number
}

/** The month of an instant, epoch ms. */
export function monthOf(at: number, zone: string): Month {
  const { year, month } = civil(at, zone)
  return { year, month }
}

/** A month so many months away. */
export function monthsFrom({ year, month }: Month, by: number): Month {
  const n = year * 12 + (month - 1) + by
  return { year: Math.floor(n / 12), month: (((n % 12) + 12) % 12) + 1 }
}

/** Epoch ms of its first moment, and of the first one after it. */
export function edgesOf(
  month: Month,
  zone: string,
): { readonly from: number; readonly to: number } {
  const first = ({ year, month: m }: Month): number =>
    instant({ year, month: m, day: 1, hour: 0, minute: 0 }, zone)
  return { from: first(month), to: first(monthsFrom(month, 1)) }
}

const two = (n: number): string => String(n).padStart(2, '0')

/** 'YYYY-MM', as it stands in an address. */
export const monthText = ({ year, month }: Month): string =>
  `${String(year).padStart(4, '0')}-${two(month)}`

/** A month out of an address; null when it is none. */
export function monthFrom(text: string | undefined): Month | null {
  const match = /^(\d{4})-(0[1-9]|1[0-2])$/.exec(text ?? '')
  return match === null ? null : { year: Number(match[1]), month: Number(match[2]) }
}

/** The day of an instant in the garden's zone, 'YYYY-MM-DD'. */
export function dayText(at: number, zone: string): string {
  const c = civil(at, zone)
  return `${monthText(c)}-${two(c.day)}`
}
