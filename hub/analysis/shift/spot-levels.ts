import { DAY, HOUR, MINUTE } from '../../model/clock.ts'
import type { JournalEntry } from '../../model/journal.ts'
import { median, robustSpread } from '../stats/median.ts'
import { LEVEL_READINGS, type ProbeNow, latestRows } from '../probe-now.ts'
import { type Level, handledTimes, isHandled, levelAcrossHandling } from './handled.ts'

/** A spot's level now and on the days before, made comparable. */
export interface SpotLevels {
  readonly probe: ProbeNow
  /** Median of the latest readings, freed of the daily swing; NaN when it cannot be compared now. */
  readonly present: number
  /** The same over the last six hours: what a passing disturbance cannot move. */
  readonly lately: number
  /** Median of the 24 hours that ended `k` days before, by `k`; NaN where there is too little. */
  readonly daily: Float64Array
  /** Standard deviation of an hour about its day. */
  readonly noise: number
  /** Valid hours, freed of handling steps and of the daily swing. */
  readonly hours: Level
  /** Latest valid readings of the last two days, freed of the daily swing. */
  readonly readings: Level
}

/** Days behind the present that are looked at: 30 to compare with and a few to steady the oldest. */
const DAYS_BACK = 34
/** Hours a day needs; a probe that reports every six hours has four. */
const HOURS_A_DAY = 3
/** Readings behind a present level. */
const LEAST_READINGS = 4
/** Days the daily swing and the noise are learned from. */
const LEARN_DAYS = 14
const SWING_DAYS = 5
/** Noise of an hour that is taken before enough was seen, and below which none is believed, pH. */
const NOISE = { unknown: 0.1, least: 0.03 } as const
const LATELY_MS = 6 * HOUR

export function spotLevels(
  probe: ProbeNow,
  journal: readonly JournalEntry[],
  at: number,
): SpotLevels {
  const { hourly, recent } = probe
  const handled = handledTimes(hourly, journal, at)
  const raw = levelAcrossHandling(hourly, handled)
  const days = (level: Level): Float64Array => {
    const groups: number[][] = Array.from({ length: DAYS_BACK }, () => [])
    for (const [i, time] of level.time.entries()) {
      groups[Math.max(0, Math.floor((at - time - 30 * MINUTE) / DAY))]?.push(level.value[i]!)
    }
    return Float64Array.from(groups, (of) => (of.length >= HOURS_A_DAY ? median(of) : NaN))
  }
  const daily = days(raw)
  const swing = dailySwing(raw, daily, at)
  const unswung = (level: Level): Level => ({
    time: level.time,
    value: level.value.map((v, i) => v - swing[hourOf(level.time[i]!)]!),
  })
  const hours = unswung(raw)

  const rows = latestRows(
    recent,
    recent.ph,
    at,
    Infinity,
    (row) => recent.flags[row] === 0 && !isHandled(recent.time[row]!, handled),
  ).toReversed()
  const readings = unswung({
    time: rows.map((row) => recent.time[row]!),
    value: rows.map((row) => recent.ph[row]!),
  })
  const newHours = hours.value.filter((_, i) => hours.time[i]! > at - 12 * HOUR)
  const enough = readings.value.length >= LEAST_READINGS
  const resting = isHandled(at, handled)
  const present = resting
    ? NaN
    : enough
      ? median(readings.value.slice(-LEVEL_READINGS))
      : newHours.length >= 3
        ? median(newHours.slice(-3))
        : NaN
  const sixHours = (level: Level): number[] =>
    level.value.filter((_, i) => level.time[i]! > at - LATELY_MS)
  const lately = median(sixHours(enough ? readings : hours))
  return {
    probe,
    present,
    lately: resting ? NaN : lately,
    daily,
    noise: noiseOf(hours, daily, at),
    hours,
    readings,
  }
}

/** Level `lag` days back: the median of three days, so that no single odd day is compared with. */
export function levelBefore(levels: SpotLevels, lag: number): number {
  const days = Array.from(levels.daily.subarray(lag, lag + 3)).filter(Number.isFinite)
  return days.length >= 2 ? median(days) : NaN
}

/** How each UTC hour of the day differs from its day, from the last two weeks. */
function dailySwing(level: Level, daily: Float64Array, at: number): number[] {
  const byHour: number[][] = Array.from({ length: 24 }, () => [])
  for (const [i, time] of level.time.entries()) {
    const day = dayOf(time, at)
    if (day >= 1 && day <= LEARN_DAYS && Number.isFinite(daily[day])) {
      byHour[hourOf(time)]!.push(level.value[i]! - daily[day]!)
    }
  }
  return byHour.map((of) =>
    of.length < SWING_DAYS ? 0 : (median(of) * of.length) / (of.length + 3),
  )
}

function noiseOf(hours: Level, daily: Float64Array, at: number): number {
  const residuals = hours.time.flatMap((time, i) => {
    const day = dayOf(time, at)
    return day >= 1 && day <= LEARN_DAYS && Number.isFinite(daily[day])
      ? hours.value[i]! - daily[day]!
      : []
  })
  return residuals.length < 24 ? NOISE.unknown : Math.max(NOISE.least, robustSpread(residuals))
}

function dayOf(time: number, at: number): number {
  return Math.floor((at - time - 30 * MINUTE) / DAY)
}

function hourOf(time: number): number {
  return Math.floor(time / HOUR) % 24
}
