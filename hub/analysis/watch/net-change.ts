import { median } from '../stats/median.ts'

/** A net change seen against the levels of the last 30 days. */
export interface NetChange {
  /** Signed, pH. */
  readonly change: number
  /** Lags, days, at whose levels the change is the full one: the level before. */
  readonly lags: readonly number[]
  /** True when the level was already once where it is now: it is coming back, not going away. */
  readonly returning: boolean
}

const WINDOW_DAYS = 30
/** Lags whose change comes this near to the largest belong to the level before. */
const PLATEAU = 0.9
/** A level is back when no more than this share of the change is left ... */
const BACK = 0.35
/** ... on so many days. */
const BACK_DAYS = 3

/**
 * The largest net change between now and the levels 1 to 30 days back. `changeAt(lag)` is now minus the level
 * then; NaN = unknown. The largest of many noisy differences is too large on average, so the answer is the
 * median over all lags that agree with it within a tenth.
 */
export function netChange(changeAt: (lag: number) => number): NetChange | null {
  const changes = Float64Array.from({ length: WINDOW_DAYS + 1 }, (_, lag) =>
    lag === 0 ? NaN : changeAt(lag),
  )
  let most = 0
  for (const change of changes) if (Math.abs(change) > Math.abs(most)) most = change
  if (most === 0) return null
  const lags: number[] = []
  for (let lag = 1; lag <= WINDOW_DAYS; lag++) {
    if (changes[lag]! / most >= PLATEAU) lags.push(lag)
  }
  const change = median(lags.map((lag) => changes[lag]!))
  const oldest = lags.at(-1) ?? WINDOW_DAYS
  let back = 0
  for (let lag = oldest + 1; lag <= WINDOW_DAYS; lag++) {
    if (Math.abs(changes[lag]!) <= BACK * Math.abs(change)) back++
  }
  return { change, lags, returning: back >= BACK_DAYS }
}
