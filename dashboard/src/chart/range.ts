import { toSay } from '../say.ts'

const DAY = 86_400_000

/** A stretch of time, epoch ms. */
export interface Range {
  readonly from: number
  readonly to: number
}

export const RANGES = ['day', 'week', 'month', 'season', 'year', 'all'] as const
export type RangeName = (typeof RANGES)[number]

/** Days a named range reaches back. */
export const RANGE_DAYS: Readonly<Record<RangeName, number>> = {
  day: 1,
  week: 7,
  month: 31,
  season: 214,
  year: 366,
  all: 0,
}
export const RANGE_WORDS: Readonly<Record<RangeName, string>> = {
  day: toSay('Day'),
  week: toSay('Week'),
  month: toSay('Month'),
  season: toSay('Season'),
  year: toSay('Year'),
  all: toSay('All'),
}

/** Ranges of the garden wall, days back. */
export const WALL_RANGES = [
  { days: 90, words: toSay('90 days') },
  { days: 214, words: toSay('Season') },
  { days: 366, words: toSay('1 year') },
  { days: 550, words: toSay('18 months') },
] as const

/** A little of the future is shown, so that the newest point does not stick to the edge. */
export const AHEAD = 0.015
/** The range that ends about now. */
export function rangeBack(now: number, days: number): Range {
  const length = days * DAY
  return { from: Math.round(now - length), to: Math.round(now + length * AHEAD) }
}

const SHORTEST = 30 * 60_000
const LONGEST = 30 * 366 * DAY

/** A range about the same middle, `factor` times as long, within half an hour and thirty years. */
export function zoomed({ from, to }: Range, factor: number): Range {
  const length = Math.min(LONGEST, Math.max(SHORTEST, (to - from) * factor))
  const middle = (from + to) / 2
  return { from: Math.max(0, Math.round(middle - length / 2)), to: Math.round(middle + length / 2) }
}
/** A range moved by a part of its length; not past `latest`. */
export function moved({ from, to }: Range, part: number, latest: number): Range {
  const by = Math.min((to - from) * part, Math.max(0, latest - to))
  return { from: Math.max(0, Math.round(from + by)), to: Math.round(to + by) }
}

/** How often the charts may be fetched again for a range when readings come in, ms. */
export function refetchMs({ from, to }: Range): number {
  const days = (to - from) / DAY
  if (days <= 2) return 1000
  return days <= 40 ? 10_000 : 60_000
}
