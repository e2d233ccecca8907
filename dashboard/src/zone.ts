/** Civil time in a zone; month 1..12. */
export interface Civil {
  readonly year: number
  readonly month: number
  readonly day: number
  readonly hour: number
  readonly minute: number
}

const MINUTE = 60_000
const HOUR = 60 * MINUTE
const DAY = 24 * HOUR

const formats = new Map<string, Intl.DateTimeFormat>()
function partsFormat(zone: string): Intl.DateTimeFormat {
  let format = formats.get(zone)
  if (format === undefined) {
    format = new Intl.DateTimeFormat('en-US', {
      timeZone: zone,
      hourCycle: 'h23',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
    })
    formats.set(zone, format)
  }
  return format
}

/** What the garden's clock and calendar show at an instant (epoch ms). */
export function civil(at: number, zone: string): Civil & { readonly second: number } {
  const found = { year: 0, month: 0, day: 0, hour: 0, minute: 0, second: 0 }
  for (const { type, value } of partsFormat(zone).formatToParts(at)) {
    if (type in found) found[type as keyof typeof found] = Number(value)
  }
  return found
}

/** How far the zone is ahead of UTC at an instant, ms. */
function aheadMs(at: number, zone: string): number {
  const c = civil(at, zone)
  const asUtc = Date.UTC(c.year, c.month - 1, c.day, c.hour, c.minute, c.second)
  return asUtc - Math.floor(at / 1000) * 1000
}

/**
 * The instant (epoch ms) at which the garden's clock shows a civil time. Fields may run over
 * (month 13, day 0). A time that a clock change skips is taken as if the clock had not changed yet;
 * one that happens twice is the first of the two.
 */
export function instant(c: Civil, zone: string): number {
  const asUtc = Date.UTC(c.year, c.month - 1, c.day, c.hour, c.minute)
  const before = asUtc - aheadMs(asUtc - DAY, zone)
  const after = asUtc - aheadMs(asUtc + DAY, zone)
  const fits = (at: number): boolean => at + aheadMs(at, zone) === asUtc
  return fits(before) ? before : fits(after) ? after : before
}

/** A mark on a time axis. `major`: begins a larger unit (a year, a day). */
export interface Tick {
  readonly at: number
  readonly label: string
  readonly major: boolean
}

type Step = readonly ['hour' | 'day' | 'month' | 'year', number]
const STEPS: readonly Step[] = [
  ['hour', 1],
  ['hour', 3],
  ['hour', 6],
  ['hour', 12],
  ['day', 1],
  ['day', 2],
  ['day', 7],
  ['day', 14],
  ['month', 1],
  ['month', 2],
  ['month', 3],
  ['month', 6],
  ['year', 1],
  ['year', 2],
  ['year', 5],
  ['year', 10],
]
const STEP_MS = { hour: HOUR, day: DAY, month: 30.44 * DAY, year: 365.25 * DAY }

/** Days by which 1970 began, on a Thursday, after the first day of a week: Sunday in the United States, else Monday. */
const intoWeek = (locale: string): number => (locale === 'en-US' ? 4 : 3)

/** Civil time of the first tick at or before a time. */
function firstOf(c: Civil, [unit, n]: Step, beforeEpoch: number): Civil {
  switch (unit) {
    case 'hour':
      return { ...c, hour: Math.floor(c.hour / n) * n, minute: 0 }
    case 'day': {
      // Two days and fortnights count from the same day on which a week begins, so that ticks stay put.
      const dayNumber = Math.floor(Date.UTC(c.year, c.month - 1, c.day) / DAY) + beforeEpoch
      return { ...c, day: c.day - (dayNumber % n), hour: 0, minute: 0 }
    }
    case 'month':
      return { ...c, month: Math.floor((c.month - 1) / n) * n + 1, day: 1, hour: 0, minute: 0 }
    case 'year':
      return { year: Math.floor(c.year / n) * n, month: 1, day: 1, hour: 0, minute: 0 }
  }
}

function later(c: Civil, [unit, n]: Step, times: number): Civil {
  return { ...c, [unit]: c[unit] + n * times }
}

/** Ticks at whole hours, days, months or years of the garden's calendar, at most `most` of them. */
export function timeTicks(
  from: number,
  to: number,
  options: { zone: string; locale: string; most: number },
): Tick[] {
  const { zone, locale, most } = options
  if (!(to > from)) return []
  const fits = ([unit, n]: Step): boolean => (to - from) / (STEP_MS[unit] * n) <= most
  const step = STEPS.find(fits) ?? (['year', 20] as const)
  const start = firstOf(civil(from, zone), step, intoWeek(locale))
  const clock = new Intl.DateTimeFormat(locale, {
    timeZone: zone,
    hour: locale === 'en-US' ? 'numeric' : '2-digit',
    minute: '2-digit',
  })
  const date = new Intl.DateTimeFormat(locale, { timeZone: zone, day: 'numeric', month: 'short' })
  const month = new Intl.DateTimeFormat(locale, { timeZone: zone, month: 'short' })
  const ticks: Tick[] = []
  for (let i = 0; i < 2 * most + 400; i++) {
    const at = instant(later(start, step, i), zone)
    if (at >= to) break
    if (at < from || at === ticks.at(-1)?.at) continue
    const c = civil(at, zone)
    if (step[0] === 'hour') {
      const major = c.hour === 0
      ticks.push({ at, label: major ? date.format(at) : clock.format(at), major })
    } else if (step[0] === 'day') {
      ticks.push({ at, label: date.format(at), major: c.day === 1 })
    } else {
      const major = c.month === 1
      ticks.push({ at, label: major ? String(c.year) : month.format(at), major })
    }
  }
  return ticks
}
