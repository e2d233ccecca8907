import type { Interval } from '../../../../hub/api/schemas/findings.ts'
import type {
  BedReviewView,
  ReviewedTreatmentView,
  SeasonReportView,
} from '../../../../hub/api/schemas/review.ts'
import { dateOnly, localeOf, num } from '../../format.ts'
import type { Units } from '../../format.ts'
import { say, toSay } from '../../say.ts'

type Where = { readonly zone: string; readonly units: Units }

/** An amount of money with the decimals its size leaves worth showing. */
export function money(value: number, currency: string, units: Units): string {
  const decimals = value >= 100 ? 0 : value >= 0.1 || value === 0 ? 2 : 3
  const format = new Intl.NumberFormat(localeOf(units), {
    style: 'currency',
    currency,
    minimumFractionDigits: decimals,
    maximumFractionDigits: decimals,
  })
  const text = format.format(value)
  return value > 0 && !/[1-9]/.test(text) ? say`under ${format.format(0.001)}` : text
}

/** What one pH over one month has cost, with its interval. */
export function costWords(cost: NonNullable<ReviewedTreatmentView['cost']>, units: Units): string {
  const of = (x: number): string => money(x, cost.currency, units)
  return cost.high === null
    ? say`${of(cost.value)} (at least ${of(cost.low)})`
    : say`${of(cost.value)} (${of(cost.low)} to ${of(cost.high)})`
}

export const WORKED_WORDS: Readonly<Record<ReviewedTreatmentView['worked'], string>> = {
  yes: toSay('yes'),
  no: toSay('no'),
  'not known': toSay('not known'),
}

/** When a bed is expected to need something again, in words; no sooner said than to the month. Null: not told. */
export function dueWords(due: BedReviewView['nextDue'], { zone, units }: Where): string | null {
  if (due === null) return null
  const { typical, earliest, latest } = due
  const format = new Intl.DateTimeFormat(localeOf(units), {
    month: 'short',
    year: 'numeric',
    timeZone: zone,
  })
  const month = (at: number): string => format.format(at)
  const ends =
    earliest !== null && latest !== null
      ? say`between ${month(earliest)} and ${month(latest)}`
      : earliest !== null
        ? say`not before ${month(earliest)}`
        : latest !== null
          ? say`by ${month(latest)} at the latest`
          : null
  return typical === null ? ends : [say`about ${month(typical)}`, ends].filter(Boolean).join(', ')
}

/** A month 'YYYY-MM' as people write it. */
export function monthWords(month: string, units: Units): string {
  const [year = 0, number = 1] = month.split('-').map(Number)
  return new Intl.DateTimeFormat(localeOf(units), {
    month: 'short',
    year: 'numeric',
    timeZone: 'UTC',
  }).format(Date.UTC(year, number - 1, 1))
}

/** Days of a month inside the band, of those with a pH. */
export function inBandWords(month: SeasonReportView['months'][number], units: Units): string {
  if (month.inBand === null || month.days === 0) return '–'
  return say`${num(month.inBand, 0, units)} of\u00a0${num(month.days, 0, units)}`
}

/** A period by its first and last day. */
export function periodWords(period: { from: number; to: number }, where: Where): string {
  return say`${dateOnly(period.from, where)} to ${dateOnly(period.to - 1, where)}`
}

/** What a peak seen here would have a trial claim. */
export function claimedDirection(peak: Interval | null): 'raises' | 'lowers' | 'changes' {
  const { low = null, high = null } = peak ?? {}
  if (low !== null && low > 0) return 'raises'
  return high !== null && high < 0 ? 'lowers' : 'changes'
}
