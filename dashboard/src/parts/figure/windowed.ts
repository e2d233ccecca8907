/** Rows of a long table that are drawn: those in sight, and some around them. */
export interface Window {
  readonly first: number
  /** Outside. */
  readonly end: number
}

const AROUND = 12

/** The rows to draw of `count`, each `rowPx` high, in a place `heightPx` high that is scrolled by `topPx`. */
export function windowOf(
  count: number,
  { rowPx, heightPx, topPx }: { rowPx: number; heightPx: number; topPx: number },
): Window {
  const first = Math.floor(Math.max(0, topPx) / rowPx) - AROUND
  const end = Math.ceil((Math.max(0, topPx) + heightPx) / rowPx) + AROUND
  return { first: Math.max(0, Math.min(first, count - 1)), end: Math.max(0, Math.min(count, end)) }
}
