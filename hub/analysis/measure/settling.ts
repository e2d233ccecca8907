import { SETTLED } from '../../agronomy/electrode-limits.ts'
import { counted } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** Whether what a probe shows has come to rest. */
export interface Settling {
  readonly state: 'nothing' | 'too few' | 'moving' | 'settled'
  /** Mean of the newest readings that agree; the newest one while it moves; null without any. */
  readonly value: number | null
  /** Time of the newest reading, epoch ms. */
  readonly at: number | null
  /** Newest readings that agree, and over how long, ms. */
  readonly readings: number
  readonly spanMs: number
  readonly sentence: string
}

/**
 * Readings of one channel in ascending time, judged from the newest backwards: settled when at least three in a row
 * over half a minute lie within 1 mV (10 counts) of each other. Common practice, no source.
 */
export function settling(
  time: ArrayLike<number>,
  value: ArrayLike<number>,
  { unit }: { readonly unit: 'mV' | 'counts' },
): Settling {
  const within = unit === 'mV' ? SETTLED.withinMv : SETTLED.withinCounts
  let low = Infinity
  let high = -Infinity
  let sum = 0
  let readings = 0
  let newest = NaN
  let at = NaN
  let since = NaN
  let moved = false
  for (let i = time.length - 1; i >= 0; i--) {
    const one = value[i]!
    if (!Number.isFinite(one)) continue
    if (readings === 0) {
      newest = one
      at = time[i]!
    }
    low = Math.min(low, one)
    high = Math.max(high, one)
    // A hair's breadth of rounding: 0.1 mV steps are no exact numbers.
    if (high - low > within + 1e-6) {
      moved = true
      break
    }
    sum += one
    readings++
    since = time[i]!
  }
  if (readings === 0) {
    return {
      state: 'nothing',
      value: null,
      at: null,
      readings: 0,
      spanMs: 0,
      sentence: say`No reading since then.`,
    }
  }
  const spanMs = at - since
  const settled = readings >= SETTLED.readings && spanMs >= SETTLED.spanMs
  const seen = say`${counted(readings, 'reading')} within ${within} ${unit} of each other over ${Math.round(spanMs / 1000)} s`
  const wanted = say`settled is ${SETTLED.readings} over ${SETTLED.spanMs / 1000} s`
  return {
    state: settled ? 'settled' : moved ? 'moving' : 'too few',
    value: settled ? sum / readings : newest,
    at,
    readings,
    spanMs,
    sentence: settled
      ? say`Settled: ${seen}.`
      : moved
        ? say`Still moving: only the last ${seen}; ${wanted}.`
        : say`Too few to tell: ${seen}; ${wanted}.`,
  }
}
