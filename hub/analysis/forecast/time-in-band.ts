import type { PhBand } from '../../model/bed.ts'
import { DAY } from '../../model/clock.ts'
import type { DailySeries } from '../aggregate/daily-series.ts'
import type { Insufficient } from '../assessment.ts'
import { say } from '../../words/say.ts'

const LEAST_DAYS = 7
/** Standard errors by which all days are moved together: the ends of a 95 % interval, and between. */
const SHIFTS = [-1.96, -1, 0, 1, 1.96] as const

/** Days outside in a row, `from <= t < to`. */
export interface Spell {
  readonly from: number
  readonly to: number
  readonly side: 'below' | 'above'
}

export interface TimeInBand {
  readonly status: 'ok'
  readonly from: number
  readonly to: number
  /** Share of the known days inside, with the ends of its 95 % interval. */
  readonly share: number
  readonly low: number
  readonly high: number
  /** Days by what is most likely. */
  readonly inside: number
  readonly below: number
  readonly above: number
  readonly unknown: number
  readonly longestOutside: Spell | null
}

/**
 * Days of a bed inside its band, `from <= day < to`, counted by the daily value. Its doubt is mostly the same from day
 * to day (where the spots lie, how the electrodes stand), so the interval is what the share would be with all days
 * moved up or down together by up to two standard errors.
 */
export function timeInBand(
  series: DailySeries,
  band: PhBand,
  from: number,
  to: number,
): TimeInBand | Insufficient {
  let known = 0
  const counts = { inside: 0, below: 0, above: 0 }
  const shares = SHIFTS.map(() => 0)
  let spell: Spell | null = null
  let longest: Spell | null = null
  for (const [i, day] of series.day.entries()) {
    if (day < from || day >= to) continue
    known++
    const value = series.value[i]!
    const se = series.se[i]!
    const side = value < band.low ? 'below' : value > band.high ? 'above' : 'inside'
    counts[side]++
    for (const [j, shift] of SHIFTS.entries()) {
      const at = value + shift * se
      if (at >= band.low && at <= band.high) shares[j]!++
    }
    if (side === 'inside') {
      spell = null
      continue
    }
    spell = goneOn(spell, day, side)
    if (spell.to - spell.from > lengthOf(longest)) longest = spell
  }
  if (known < LEAST_DAYS) {
    return {
      status: 'insufficient',
      have: known === 1 ? say`${known} day with a bed value` : say`${known} days with a bed value`,
      need: say`${LEAST_DAYS} days`,
    }
  }
  const all = shares.map((share) => share / known)
  return {
    status: 'ok',
    from,
    to,
    share: all[SHIFTS.indexOf(0)]!,
    low: Math.min(...all),
    high: Math.max(...all),
    ...counts,
    unknown: Math.max(0, Math.round((to - from) / DAY) - known),
    longestOutside: longest,
  }
}

const lengthOf = (spell: Spell | null): number => (spell === null ? 0 : spell.to - spell.from)

/** The spell with one more day, or a new one; three days without a value do not end it. */
function goneOn(spell: Spell | null, day: number, side: Spell['side']): Spell {
  return spell !== null && spell.side === side && day - spell.to <= 3 * DAY
    ? { from: spell.from, to: day + DAY, side }
    : { from: day, to: day + DAY, side }
}
