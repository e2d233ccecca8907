import type { Progress } from './attendant.ts'

const UNKNOWN_S = 60

/** The interval of a probe as it was seen, else as it was announced, ms. */
export function intervalOf({ liveAt, birth }: Progress): number {
  const gaps = liveAt.slice(1).map((at, i) => at - (liveAt[i] ?? at))
  const sorted = gaps.toSorted((a, b) => a - b)
  return sorted[Math.floor(sorted.length / 2)] ?? (birth?.iv ?? UNKNOWN_S) * 1000
}
