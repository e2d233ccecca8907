import { DAY } from '../model/clock.ts'
import type { BedFacts } from './bed-facts.ts'
import { dayOf, type MonthDay, startOf } from './calendar.ts'
import { isSouthern } from './southern-zones.ts'
import { temperatureText } from '../words/amount.ts'
import { monthDayText } from '../words/figure.ts'
import { say } from '../words/say.ts'

/** The part of the year in which things are put on this bed. */
export interface Season {
  /** First and last day, both inside; `from` after `to` where it spans the new year. Null: all year. */
  readonly from: MonthDay | null
  readonly to: MonthDay | null
  readonly basis: 'own dates' | 'soil temperature' | 'usual'
  readonly sentence: string
}

/** Plants and soil life are at work from here, degrees Celsius; practice. */
const GROWING_C = 10
const LEAST_DAYS = 300
const YEAR_DAYS = 365
const HALF_WINDOW_DAYS = 5

/** By the gardener's own dates; else by the bed's own soil over its last year; else by the half of the earth. */
export function seasonOf(facts: BedFacts): Season {
  const { settings, zone } = facts
  if (settings.season !== null) {
    const from = monthDay(settings.season.from)
    const to = monthDay(settings.season.to)
    return {
      from,
      to,
      basis: 'own dates',
      sentence: say`Growing season by your own dates: ${spanText(from, to)}.`,
    }
  }
  const seen = seasonSeen(facts)
  if (seen !== null) return seen
  const [from, to] = isSouthern(zone)
    ? [
        { month: 10, day: 1 },
        { month: 4, day: 30 },
      ]
    : [
        { month: 4, day: 1 },
        { month: 10, day: 31 },
      ]
  return {
    from,
    to,
    basis: 'usual',
    sentence: say`Growing season as is usual where no soil temperature of a whole year is known: ${spanText(from, to)}; set your own dates if they differ.`,
  }
}

/** True for days inside, both ends included. */
export function inSeason({ from, to }: Season, { month, day }: MonthDay): boolean {
  if (from === null || to === null) return true
  const at = month * 100 + day
  const begin = from.month * 100 + from.day
  const end = to.month * 100 + to.day
  return begin <= end ? at >= begin && at <= end : at >= begin || at <= end
}

/** The day itself when it lies in the season, else the first day of the next one. */
export function nextInSeason(season: Season, day: Temporal.PlainDate): Temporal.PlainDate {
  let next = day
  // 29 February comes round within eight years, every other day within one.
  for (let i = 0; i <= 8 * 366 && !inSeason(season, next); i++) next = next.add({ days: 1 })
  return next
}

function monthDay(text: string): MonthDay {
  return { month: Number(text.slice(0, 2)), day: Number(text.slice(3, 5)) }
}

function spanText(from: MonthDay, to: MonthDay): string {
  return say`${monthDayText(from)} to ${monthDayText(to)}`
}

/** The longest stretch of the last year with warm soil, taken round the year; null when the record is too short. */
function seasonSeen({ soilC, at, zone }: BedFacts): Season | null {
  const sums = new Float64Array(YEAR_DAYS)
  const counts = new Float64Array(YEAR_DAYS)
  for (const [i, day] of soilC.day.entries()) {
    const back = Math.floor((at - day) / DAY)
    if (back < 0 || back >= YEAR_DAYS) continue
    sums[YEAR_DAYS - 1 - back]! += soilC.value[i]!
    counts[YEAR_DAYS - 1 - back]! += 1
  }
  if (counts.reduce((n, c) => n + Math.min(1, c), 0) < LEAST_DAYS) return null
  const warm = Array.from({ length: YEAR_DAYS }, (_, i) => {
    let sum = 0
    let count = 0
    for (let k = -HALF_WINDOW_DAYS; k <= HALF_WINDOW_DAYS; k++) {
      const j = (i + k + YEAR_DAYS) % YEAR_DAYS
      sum += sums[j]!
      count += counts[j]!
    }
    return count > 0 && sum / count >= GROWING_C
  })
  const sayWarm = say`the days of the last year on which its soil had ${temperatureText(GROWING_C)} or more`
  if (warm.every(Boolean)) {
    return {
      from: null,
      to: null,
      basis: 'soil temperature',
      sentence: say`Growing season by this bed's own soil: all year, by ${sayWarm}.`,
    }
  }
  const stretch = longestRound(warm)
  if (stretch === null) return null
  const dayAt = (index: number): MonthDay =>
    dayOf(startOf(dayOf(at, zone), zone) - (YEAR_DAYS - 1 - index) * DAY + DAY / 2, zone)
  const from = dayAt(stretch.from)
  const to = dayAt(stretch.to)
  return {
    from: { month: from.month, day: from.day },
    to: { month: to.month, day: to.day },
    basis: 'soil temperature',
    sentence: say`Growing season by this bed's own soil: ${spanText(from, to)}, ${sayWarm}.`,
  }
}

/** First and last index of the longest run of true, the end joined to the beginning; null without any. */
function longestRound(flags: readonly boolean[]): { from: number; to: number } | null {
  const n = flags.length
  let best: { from: number; length: number } | null = null
  for (let from = 0; from < n; from++) {
    if (!flags[from]! || flags[(from - 1 + n) % n]!) continue
    let length = 1
    while (flags[(from + length) % n]!) length++
    if (best === null || length > best.length) best = { from, length }
  }
  return best === null ? null : { from: best.from, to: (best.from + best.length - 1) % n }
}
