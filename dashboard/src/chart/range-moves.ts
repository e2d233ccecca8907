import type { Range } from './range.ts'

const DAY = 86_400_000
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
