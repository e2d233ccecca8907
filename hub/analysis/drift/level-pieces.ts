/** Where a bed's level jumped, and for how long it kept moving because of it. */
export interface LevelBreak {
  /** Epoch ms. */
  readonly at: number
  /** The level is on its way until then: weeks from `at` to here belong to no piece. @default at */
  readonly until?: number
  /** Which way what was put on is known to move it. @default not known */
  readonly toward?: -1 | 1
}

export interface LevelPieces {
  /** Which rows belong to a piece, and to which: 0, 1, ... or -1 for rows left out. */
  readonly piece: Int32Array
  readonly pieces: number
  /** Rows that were left out. */
  readonly leftOut: number
}

/** Rows a piece needs: a shorter one would be fitted by its own level alone, and bend the trend. */
const LEAST_ROWS = 8

/**
 * Cuts a record where its level jumped. Rows while a treatment is at work are left out, and so are pieces too
 * short to have a level of their own: what they show is the jump, not a slow change.
 *
 * @param time epoch ms, ascending
 */
export function levelPieces(time: Float64Array, breaks: readonly LevelBreak[]): LevelPieces {
  const ordered = breaks.toSorted((a, b) => a.at - b.at)
  const raw = Array.from(time, (t) => {
    if (ordered.some(({ at, until }) => t >= at && t < (until ?? at))) return -1
    return ordered.filter(({ at }) => at <= t).length
  })
  const rows = new Map<number, number>()
  for (const own of raw) if (own >= 0) rows.set(own, (rows.get(own) ?? 0) + 1)
  const whole = breaks.length === 0
  const kept = Array.from(rows.keys()).filter((own) => whole || rows.get(own)! >= LEAST_ROWS)
  const piece = Int32Array.from(raw, (own) => kept.indexOf(own))
  return {
    piece,
    pieces: kept.length,
    leftOut: piece.reduce((n, own) => n + (own < 0 ? 1 : 0), 0),
  }
}
