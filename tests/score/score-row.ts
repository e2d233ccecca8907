/** What a quantity has to reach: not above, not below, or between. */
export interface Bound {
  readonly atMost?: number
  readonly atLeast?: number
}

/** One line of the score table. */
export interface ScoreRow {
  /** Unique; the baseline is kept under it. */
  readonly name: string
  readonly value: number
  /** How many cases (or bed-years) stand behind it. */
  readonly cases: number
  /** Null: reported only. */
  readonly must: Bound | null
  readonly stretch: Bound | null
}

export const atMost = (limit: number): Bound => ({ atMost: limit })
export const atLeast = (limit: number): Bound => ({ atLeast: limit })
export const between = (low: number, high: number): Bound => ({ atLeast: low, atMost: high })

/** A value that could not be counted reaches nothing. */
export function reaches(value: number, { atMost: most, atLeast: least }: Bound): boolean {
  if (Number.isNaN(value)) return false
  return (most === undefined || value <= most) && (least === undefined || value >= least)
}

/** `stretch` is reached, `must` is reached, or nothing is; '' when nothing was asked. */
export function markOf({ value, must, stretch }: ScoreRow): 'stretch' | 'must' | 'MISSED' | '' {
  if (must === null) return ''
  if (!reaches(value, must)) return 'MISSED'
  return stretch !== null && reaches(value, stretch) ? 'stretch' : 'must'
}
