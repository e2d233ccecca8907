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
