import type { Range } from './range.ts'

/** A finger on a chart: CSS px from the left edge of the plotting area. */
export interface Finger {
  readonly x: number
}

const SHORTEST_MS = 30 * 60_000
/** Fingers nearer than this are one: the range would leap. */
const LEAST_APART_PX = 24

/** The range after one finger has dragged the paper, `width` px wide, from one place to another. */
export function dragged({ from, to }: Range, width: number, was: Finger, is: Finger): Range {
  const by = ((was.x - is.x) / width) * (to - from)
  return { from: Math.round(from + by), to: Math.round(to + by) }
}

/** The range in which what was under two fingers is still under them. */
export function pinched(
  range: Range,
  width: number,
  was: readonly [Finger, Finger],
  is: readonly [Finger, Finger],
): Range {
  const apart = (a: Finger, b: Finger): number =>
    Math.sign(b.x - a.x || 1) * Math.max(LEAST_APART_PX, Math.abs(b.x - a.x))
  const length = range.to - range.from
  const timeAt = (x: number): number => range.from + (x / width) * length
  const scale = Math.abs(apart(...was) / apart(...is))
  const next = Math.max(SHORTEST_MS, length * scale)
  const middle = timeAt((was[0].x + was[1].x) / 2)
  const from = middle - ((is[0].x + is[1].x) / 2 / width) * next
  return { from: Math.round(from), to: Math.round(from + next) }
}

/** The range `factor` times as long in which the time at a place stays there. */
export function zoomedAt({ from, to }: Range, width: number, x: number, factor: number): Range {
  const length = Math.max(SHORTEST_MS, (to - from) * factor)
  const at = from + (x / width) * (to - from)
  const start = at - (x / width) * length
  return { from: Math.round(start), to: Math.round(start + length) }
}
