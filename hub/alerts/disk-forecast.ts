import { tQuantile } from '../analysis/stats/t-quantile.ts'
import { DAY } from '../model/clock.ts'
import type { StorageDay } from '../model/storage.ts'

/** Bytes a day, with an interval that holds it four times out of five. */
export interface Pace {
  readonly value: number
  readonly low: number
  readonly high: number
}

export type DiskForecast =
  | { readonly status: 'insufficient'; readonly have: number; readonly need: number }
  | {
      readonly status: 'ok'
      /** Days it was learnt from. */
      readonly days: number
      /** How the data folder grows. */
      readonly own: Pace
      /** How the free space falls, whoever takes it. */
      readonly disk: Pace
      /** Epoch ms; null: not within the horizon. */
      readonly fullAt: number | null
      /** At the high and at the low pace, epoch ms; null: not within the horizon. */
      readonly fullFrom: number | null
      readonly fullBy: number | null
    }

/** Days between the first and the last look that a pace needs: less than a week knows no weekend (judgement). */
const LEAST_DAYS = 7
/** What was longer ago says little of today (judgement). */
const LEARN_MS = 90 * DAY
/** Beyond this nobody plans, and the disk will be another one. */
export const FORECAST_YEARS = 20
const CONFIDENCE = 0.8
/** A folder that lost this share of itself was tidied; the pace before says nothing of the pace after. */
const TIDIED = 0.1

/**
 * When the disk is full if it goes on like this: a random walk with drift, whose pace is the way from the first to the
 * last look over the time between, and whose doubt comes from how uneven the steps were (the drift method of R. J.
 * Hyndman and G. Athanasopoulos, Forecasting: Principles and Practice; from memory). A file that came and went does not
 * move the pace and widens the doubt.
 *
 * @param days ascending
 */
export function diskForecast(days: readonly StorageDay[], now: number): DiskForecast {
  const known = sinceTidied(days.filter(({ at }) => at <= now && at > now - LEARN_MS))
  const first = known[0]
  const last = known.at(-1)
  const have = first === undefined ? 0 : Math.floor((last!.at - first.at) / DAY)
  if (first === undefined || last === undefined || have < LEAST_DAYS || known.length < 4) {
    return { status: 'insufficient', have: Math.min(have, known.length), need: LEAST_DAYS }
  }
  const disk = paceOf(known, ({ freeBytes }) => -freeBytes)
  const full = (perDay: number): number | null => {
    if (!(perDay > 0)) return null
    const at = Math.round(last.at + (last.freeBytes / perDay) * DAY)
    return at - now > FORECAST_YEARS * 365.25 * DAY ? null : Math.max(at, now)
  }
  return {
    status: 'ok',
    days: have,
    own: paceOf(known, ({ usedBytes }) => usedBytes),
    disk,
    fullAt: full(disk.value),
    fullFrom: full(disk.high),
    fullBy: full(disk.low),
  }
}

function sinceTidied(days: readonly StorageDay[]): readonly StorageDay[] {
  const cut = days.findLastIndex(
    ({ usedBytes }, i) => i > 0 && usedBytes < (1 - TIDIED) * days[i - 1]!.usedBytes,
  )
  return cut < 0 ? days : days.slice(cut)
}

function paceOf(days: readonly StorageDay[], of: (day: StorageDay) => number): Pace {
  const first = days[0]!
  const last = days.at(-1)!
  const span = (last.at - first.at) / DAY
  const value = (of(last) - of(first)) / span
  // Variance of a step of one day; a longer step counts by its length.
  let sum = 0
  for (let i = 1; i < days.length; i++) {
    const step = (days[i]!.at - days[i - 1]!.at) / DAY
    const off = of(days[i]!) - of(days[i - 1]!) - value * step
    sum += (off * off) / step
  }
  const freedom = days.length - 2
  const reach = tQuantile((1 + CONFIDENCE) / 2, freedom) * Math.sqrt(sum / freedom / span)
  return { value, low: value - reach, high: value + reach }
}
