import type { Bed, PhBand } from '../model/bed.ts'
import { DAY, HOUR } from '../model/clock.ts'
import { robustMean } from './aggregate/robust-mean.ts'
import { SPREAD } from './aggregate/spread.ts'
import { bandFor } from './band.ts'
import { DRY_BELOW } from './quality/dry-soil.ts'
import { normalCdf } from './stats/distributions.ts'
import { median } from './stats/median.ts'
import { BACK_HOURS, type WatchState } from './watch/watch-state.ts'

/** Level of a bed over its last day, against its band. */
export interface BandStay {
  readonly band: PhBand
  /** Median of the last day, robust over the spots, pH, and the half-width of its 95 % interval. */
  readonly value: number
  readonly halfWidth: number
  /** Signed distance beyond the nearer edge, pH: above 0 outside, below 0 inside. */
  readonly beyond: number
  readonly side: 'below' | 'above'
  /** Probability that it is outside at all. */
  readonly sureness: number
  /** Hours in a row, counted back from the newest with a value, beyond that edge by `margin` or more; at most 96. */
  readonly hoursBeyond: (margin: number) => number
  readonly spots: readonly number[]
}

/** Hours of the last day that must have a value. */
const LEAST_HOURS = 6
/** A bed not heard for so long breaks a row of hours. */
const BREAK_MS = 12 * HOUR
/** Z of a two-sided 95 % interval. */
const Z95 = 1.96

/**
 * Read off what the watch remembers of the last four days, so that it is the same live and in a replay. Null
 * without a band, or with too few moist hours in the last day.
 */
export function bandStay(state: WatchState, bed: Bed): BandStay | null {
  const { band } = bandFor(bed)
  if (band === null) return null
  const hours: number[] = []
  const columns = state.spots.map((spot) => ({ spot, values: new Array<number>() }))
  for (let back = 1; back <= BACK_HOURS; back++) {
    const hour = state.cursor - back * HOUR
    const slot = Math.floor(hour / HOUR) % BACK_HOURS
    const now: number[] = []
    for (const { spot, values } of columns) {
      const { recent } = spot
      const ph = recent.hour[slot] === hour ? recent.ph[slot]! : NaN
      if (Number.isNaN(ph) || recent.available[slot]! < DRY_BELOW) continue
      now.push(ph)
      if (back * HOUR <= DAY) values.push(ph)
    }
    hours.push(now.length === 0 ? NaN : median(now))
  }
  const newest = hours.slice(0, DAY / HOUR).filter((value) => !Number.isNaN(value))
  if (newest.length < LEAST_HOURS) return null
  const counting = columns.filter(({ values }) => values.length > 0)
  const { value, halfWidth } = robustMean(
    counting.map(({ values }) => median(values)),
    SPREAD.ph,
  )
  const under = band.low - value
  const over = value - band.high
  const side = under > over ? 'below' : 'above'
  const beyondOf = (ph: number): number => (side === 'below' ? band.low - ph : ph - band.high)
  return {
    band,
    value,
    halfWidth,
    beyond: Math.max(under, over),
    side,
    sureness: normalCdf((Z95 * Math.max(under, over)) / halfWidth),
    spots: counting.map(({ spot }) => spot.spotId),
    hoursBeyond(margin) {
      let row = 0
      let silent = 0
      for (const [back, ph] of hours.entries()) {
        if (Number.isNaN(ph)) {
          silent += HOUR
          if (silent > BREAK_MS) break
          continue
        }
        if (beyondOf(ph) < margin) break
        silent = 0
        row = back + 1
      }
      return row
    },
  }
}
