import { DAY, HOUR } from '../../model/clock.ts'
import { quantile } from '../stats/quantile.ts'
import { BASE_DAYS, KEPT_DAYS, NOISE_HOURS, type SpotState } from './watch-state.ts'

/** Hours a day needs to become part of the baseline. */
const LEAST_HOURS = 10
/** Accepted days before there is a baseline. */
const LEAST_DAYS = 3
/** Days older than this no longer tell what is usual: the season has moved on. */
const OLDEST_MS = 35 * DAY
/** Thirty days of noise change little in so many days. */
const NOISE_EVERY_DAYS = 5
/** Quiet hours before a spot's own noise is believed. */
const LEAST_NOISE = 72

/**
 * Closes the day that is over: it joins the accepted days when it has enough hours, the usual hours are drawn anew
 * from the last seven accepted days but the newest (so that a change that is just beginning is not taken for
 * usual), and every few days the spot's noise is measured again.
 */
export function closeDay(spot: SpotState, day: number): void {
  if (!Number.isNaN(spot.today)) {
    let hours = 0
    for (const value of spot.todayPh) if (!Number.isNaN(value)) hours++
    if (hours >= LEAST_HOURS) acceptDay(spot)
  }
  spot.today = day
  spot.todayPh.fill(NaN)
  drawBaseline(spot, day)
  if (Number.isNaN(spot.sd) || (day / DAY) % NOISE_EVERY_DAYS === 0) measureNoise(spot)
}

function acceptDay(spot: SpotState): void {
  if (spot.keptDays === KEPT_DAYS) {
    spot.days.copyWithin(0, 24)
    spot.dayOf.copyWithin(0, 1)
    spot.keptDays--
  }
  spot.days.set(spot.todayPh, spot.keptDays * 24)
  spot.dayOf[spot.keptDays] = spot.today
  spot.keptDays++
}

function drawBaseline(spot: SpotState, day: number): void {
  const last = spot.keptDays - 1
  let first = Math.max(0, last - BASE_DAYS)
  while (first < last && spot.dayOf[first]! < day - OLDEST_MS) first++
  if (last - first < LEAST_DAYS) {
    // Set aside, it stays compared with what was usual: else nobody could tell what became of it.
    if (spot.held === null) spot.base.fill(NaN)
    return
  }
  const values: number[] = []
  for (let hour = 0; hour < 24; hour++) {
    values.length = 0
    for (let row = first; row < last; row++) {
      const value = spot.days[row * 24 + hour]!
      if (!Number.isNaN(value)) values.push(value)
    }
    spot.base[hour] = middle(values)
  }
  // An hour that was never heard takes the middle of all.
  const known = spot.base.filter((value) => !Number.isNaN(value)).sort()
  const all = quantile(known, 0.5)
  for (let hour = 0; hour < 24; hour++) if (Number.isNaN(spot.base[hour])) spot.base[hour] = all
}

/** Steps from here on stand out of the scatter of single hours, pH. */
const STANDS_OUT = 0.3

/**
 * Moves what is usual by `shift`, pH: the new level of a spot becomes its normal. Hours that were taken in at the
 * new level already (nothing could be compared when it changed) stay as they are.
 */
export function rebase(spot: SpotState, shift: number): void {
  const moved = (value: number, usual: number): number => {
    const isThere =
      Math.abs(shift) >= STANDS_OUT && Math.abs(value - usual - shift) < Math.abs(value - usual)
    return isThere ? value : value + shift
  }
  for (let i = 0; i < spot.days.length; i++) {
    spot.days[i] = moved(spot.days[i]!, spot.base[i % 24]!)
  }
  for (let i = 0; i < 24; i++) {
    const usual = spot.base[i]!
    spot.todayPh[i] = moved(spot.todayPh[i]!, usual)
    spot.base[i] = usual + shift
  }
  const { residual } = spot.recent
  for (let i = 0; i < residual.length; i++) residual[i] = residual[i]! - shift
  if (spot.settling !== null) {
    const { residuals } = spot.settling
    spot.settling.before -= shift
    for (let i = 0; i < residuals.length; i++) residuals[i] = residuals[i]! - shift
  }
  spot.rebased += shift
  clearSums(spot)
}

export function clearSums(spot: SpotState): void {
  for (const sums of [spot.sums, ...spot.back]) {
    sums.above = 0
    sums.below = 0
  }
}

/** Level of the baseline as a whole, pH; NaN when there is none. */
export function usualLevel(spot: SpotState): number {
  let sum = 0
  for (const value of spot.base) sum += value
  return sum / 24
}

/** Takes a quiet hour's deviation into what is known of the spot's noise. */
export function learnNoise(spot: SpotState, residual: number): void {
  spot.noise[spot.noiseSeen % NOISE_HOURS] = residual
  spot.noiseSeen++
}

/** Robust spread of the quiet hours and their correlation from one to the next. */
function measureNoise(spot: SpotState): void {
  const n = Math.min(spot.noiseSeen, NOISE_HOURS)
  if (n < LEAST_NOISE) return
  const values = spot.noise.slice(0, n)
  const sorted = values.toSorted()
  const centre = quantile(sorted, 0.5)
  const away = values.map((value) => Math.abs(value - centre)).sort()
  spot.sd = 1.4826 * quantile(away, 0.5)
  let cross = 0
  let square = 0
  for (let i = 0; i < n; i++) {
    const own = values[i]! - centre
    square += own * own
    // The ring's seam joins two hours that are no neighbours; one of 720 does not matter.
    if (i > 0) cross += own * (values[i - 1]! - centre)
  }
  spot.phi = square === 0 ? 0 : Math.max(0, Math.min(0.99, cross / square))
}

function middle(values: number[]): number {
  if (values.length === 0) return NaN
  values.sort((a, b) => a - b)
  const half = values.length >> 1
  return values.length % 2 === 1 ? values[half]! : (values[half - 1]! + values[half]!) / 2
}

export const hourOfDay = (hour: number): number => Math.floor(hour / HOUR) % 24
