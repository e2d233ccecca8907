import { say } from '../../say.ts'
import { civil, instant } from '../../zone.ts'

/** Days of the garden's calendar, 'YYYY-MM-DD', both inside. */
export interface Days {
  readonly from: string
  readonly to: string
}
/** The same as instants, epoch ms: `from` inside, `to` outside. */
export interface Period {
  readonly days: Days
  readonly from: number
  readonly to: number
}

const two = (n: number): string => String(n).padStart(2, '0')
const dayText = (year: number, month: number, day: number): string =>
  `${String(year).padStart(4, '0')}-${two(month)}-${two(day)}`

/** The day of the garden's calendar at an instant. */
export function dayOf(at: number, zone: string): string {
  const { year, month, day } = civil(at, zone)
  return dayText(year, month, day)
}

/** When a day begins on the garden's clock, `later` days on; null for what is no day of the calendar. */
export function dayStart(text: string, zone: string, later = 0): number | null {
  const match = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text)
  if (match === null) return null
  const [year = 0, month = 0, day = 0] = match.slice(1).map(Number)
  const asUtc = new Date(Date.UTC(year, month - 1, day))
  if (asUtc.getUTCMonth() + 1 !== month || asUtc.getUTCDate() !== day) return null
  return instant({ year, month, day: day + later, hour: 0, minute: 0 }, zone)
}

/** Periods that are asked for often; the first is the usual one. */
export function usualPeriods(now: number, zone: string): (Days & { readonly words: string })[] {
  const { year, month, day } = civil(now, zone)
  const today = dayText(year, month, day)
  // A year back from 29 February is 28 February; the day after it begins the twelve months.
  const back = new Date(Date.UTC(year - 1, month - 1, Math.min(day, lastOf(year - 1, month)) + 1))
  return [
    { words: say`This year`, from: dayText(year, 1, 1), to: today },
    { words: say`Last year`, from: dayText(year - 1, 1, 1), to: dayText(year - 1, 12, 31) },
    { words: say`Last 12 months`, from: back.toISOString().slice(0, 10), to: today },
  ]
}

const lastOf = (year: number, month: number): number =>
  new Date(Date.UTC(year, month, 0)).getUTCDate()

export type PeriodErrors = { path: 'from' | 'to'; message: string }[]
/** What the hub takes at most. */
const MOST_DAYS = 3660

/** The period two days stand for; either left out is as usual. Or what is wrong with them. */
export function periodOf(
  asked: { readonly from?: string | undefined; readonly to?: string | undefined },
  now: number,
  zone: string,
): { readonly period: Period | null; readonly errors: PeriodErrors } {
  const today = dayOf(now, zone)
  const to = asked.to ?? today
  const from = asked.from ?? `${to.slice(0, 4)}-01-01`
  const errors: PeriodErrors = []
  const start = dayStart(from, zone)
  const end = dayStart(to, zone, 1)
  const expected = (text: string): string =>
    text === '' ? say`give a day` : say`expected a day such as ${today}, got '${text}'`
  if (end === null) errors.push({ path: 'to', message: expected(to) })
  if (start === null) errors.push({ path: 'from', message: expected(from) })
  if (start === null || end === null) return { period: null, errors }
  if (start >= end) errors.push({ path: 'to', message: say`the last day lies before the first` })
  if (end - start > MOST_DAYS * 86_400_000)
    errors.push({ path: 'from', message: say`expected at most ten years` })
  return {
    period: errors.length > 0 ? null : { days: { from, to }, from: start, to: end },
    errors,
  }
}
