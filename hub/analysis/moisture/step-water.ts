import { textureRow } from '../../agronomy/textures.ts'
import type { Texture } from '../../model/bed.ts'
import { DAY, HOUR } from '../../model/clock.ts'
import type { MoistureScale } from '../measure/spot-history.ts'
import { median } from '../stats/median.ts'
import { quantile } from '../stats/quantile.ts'
import { learnSeen } from './learn-seen.ts'
import { dryDownOf } from './dry-down.ts'
import { OUT_OF_SOIL } from './out-of-soil.ts'
import { startWater } from './start-water.ts'
import {
  DRAINED_KEPT,
  DRYING_DAYS_KEPT,
  DRY_DOWNS_KEPT,
  RECENT_HOURS,
  SOAKED_KEPT,
  WETTINGS_KEPT,
  type WaterState,
  type Wetting,
} from './water-state.ts'
import { waterLimits } from './water-limits.ts'

/** Ice holds water that the probe does not see; so near to freezing the moisture says nothing. */
const FROZEN_BELOW_C = 0.5
/** A rise by so much of volume within a day is water that came, not the daily swing of a sensor (below 0.02). */
const WETTING_RISE = 0.03
/** What it rose by before this share of a wetting is still the time before. */
const ONSET_SHARE = 0.25
/** A wetting is over when no higher moisture came for so long. */
const WETTING_ENDS_MS = 6 * HOUR
/** Field capacity is read a day after; when water comes again before that, but not sooner than this. */
const DRAINED_AFTER_MS = DAY
const DRAINED_EARLIEST_MS = 18 * HOUR
/** What plants take in a day (3 mm out of 25 cm, common practice): the rest of the fall has drained. */
const USED_IN_A_DAY = 0.012
/**
 * A day after, soil that drains goes on by about so much of what has drained already: field capacity is what is left
 * after two days (FAO Soils Bulletin 79, 2003), and a time constant of 20 hours leaves this for the second.
 */
const STILL_TO_DRAIN = 0.3
/** A wetting that falls by so much in a day has filled the soil; a light one only what plants had taken. */
const SOAKED_FALL = 0.025
/** A reading once a day is the median of so many hours. */
const DAILY_HOURS = 6

export interface WaterRow {
  /** Epoch ms, start of the hour. */
  readonly hour: number
  /** Median and lowest moisture of the hour on the probe's scale; NaN = missing. */
  readonly moisture: number
  readonly moistureLow: number
  readonly moistureScale: MoistureScale
  readonly temperatureC: number
}

/**
 * Takes in one hour; hours come in ascending order, one that is not newer than the last is passed over. What was
 * measured out of the soil or in frozen soil teaches nothing, and what lies on both sides of it is not compared.
 * On another scale than before the learning starts again.
 */
export function stepWater(state: WaterState, row: WaterRow, texture: Texture): void {
  const { hour, moisture, moistureScale: scale } = row
  if (hour <= state.hour || scale === 'unknown' || !(moisture >= 0 && moisture <= 1)) return
  if (state.scale !== scale) Object.assign(state, startWater(), { scale })
  const previous = state.hour
  state.hour = hour
  const outside = row.moistureLow < OUT_OF_SOIL || moisture < OUT_OF_SOIL
  if (outside || row.temperatureC < FROZEN_BELOW_C) return interrupt(state, hour + HOUR)
  if (!(hour - previous <= DAY)) interrupt(state, hour)

  const unit = unitOf(scale, state, texture)
  followWetting(state, hour, moisture, unit)
  const slot = (hour / HOUR) % RECENT_HOURS
  state.recent[slot] = moisture
  state.recentHour[slot] = hour
  followDrying(state, hour, unit)
  learnSeen(state, moisture)
}

/** What 1 m3/m3 is on this scale: the same share of field capacity. */
function unitOf(scale: MoistureScale, state: WaterState, texture: Texture): number {
  if (scale === 'volume') return 1
  return waterLimits(state, scale, texture).capacity / textureRow(texture).fieldCapacity
}

function followWetting(state: WaterState, hour: number, moisture: number, unit: number): void {
  const open = state.wetting
  if (open !== null && moisture > open.peak) {
    open.peak = moisture
    open.end = hour
    return
  }
  if (open !== null && hour - open.end < WETTING_ENDS_MS) return
  if (open !== null) close(state, open)
  const rise = WETTING_RISE * unit
  const from = lowest(state, hour)
  if (!(moisture - from >= rise)) return

  const onset = lastBelow(state, hour, from + ONSET_SHARE * rise)
  readDrained(state, onset.hour, DRAINED_EARLIEST_MS, unit)
  endDrying(state, onset.hour)
  state.wetUps++
  state.wetting = {
    onset: onset.hour,
    before: onset.moisture,
    end: hour,
    peak: moisture,
    drained: NaN,
  }
}

/** The wetting is over: what comes now is draining, and a rise is counted from here. */
function close(state: WaterState, wetting: Wetting): void {
  state.wettings.push(wetting)
  if (state.wettings.length > WETTINGS_KEPT) state.wettings.shift()
  state.wetting = null
  for (let slot = 0; slot < RECENT_HOURS; slot++) {
    if (state.recentHour[slot]! < wetting.end) state.recentHour[slot] = NaN
  }
}

function followDrying(state: WaterState, hour: number, unit: number): void {
  if (state.wetting !== null) return
  const last = state.wettings.at(-1)
  if (last !== undefined) readDrained(state, hour, DRAINED_AFTER_MS, unit)
  if (state.drying === null) {
    if (last !== undefined && hour < last.end + DRAINED_AFTER_MS) return
    // The first hours of a piece have no daily reading yet.
    if (hour < state.unbrokenFrom + (DAILY_HOURS - 1) * HOUR) return
    state.drying = { from: hour, days: [] }
  }
  const { from, days } = state.drying
  const day = Math.floor((hour - from) / DAY)
  if (day >= DRYING_DAYS_KEPT) return
  while (days.length < day) days.push(NaN)
  if (days.length === day) days.push(lately(state, hour))
}

/** Learns from the latest wetting, once, when it has drained for at least `after`. */
function readDrained(state: WaterState, hour: number, after: number, unit: number): void {
  const last = state.wettings.at(-1)
  if (last === undefined || Number.isFinite(last.drained) || hour < last.end + after) return
  if (state.unbrokenFrom > last.end) return
  // So much later it tells how the plants drank, not how the soil drained.
  if (hour > last.end + DRAINED_AFTER_MS + WETTING_ENDS_MS) return
  const moisture = lately(state, hour)
  if (Number.isNaN(moisture)) return
  last.drained = last.peak - moisture
  const ofDraining = Math.max(0, last.drained - USED_IN_A_DAY * unit)
  const level = moisture - STILL_TO_DRAIN * ofDraining
  state.drainedHigh = quantile(remembered(state.drained, level, DRAINED_KEPT), 0.95)
  if (last.drained < SOAKED_FALL * unit) return
  const soaked = remembered(state.soaked, level, SOAKED_KEPT)
  state.capacity = quantile(soaked, 0.75)
  state.capacitySpread = state.capacity - quantile(soaked, 0.25)
}

/** Adds to a list of bounded length; gives all of it, ascending. */
function remembered(list: number[], value: number, most: number): Float64Array {
  list.push(value)
  if (list.length > most) list.shift()
  return Float64Array.from(list).sort()
}

function endDrying(state: WaterState, at: number): void {
  const finished = dryDownOf(state, at)
  state.drying = null
  if (finished === null) return
  state.dryDowns.push(finished)
  if (state.dryDowns.length > DRY_DOWNS_KEPT) state.dryDowns.shift()
}

/** The probe was out of the soil, or the soil frozen, or nothing came for a day: no bridge across that. */
function interrupt(state: WaterState, unbrokenFrom: number): void {
  state.recentHour.fill(NaN)
  if (state.wetting !== null) close(state, state.wetting)
  endDrying(state, state.hour)
  state.unbrokenFrom = unbrokenFrom
}

/** Median of the last hours up to `hour`; NaN with fewer than half of them. */
function lately(state: WaterState, hour: number): number {
  const values: number[] = []
  for (let back = 0; back < DAILY_HOURS; back++) {
    const at = hour - back * HOUR
    const slot = (at / HOUR) % RECENT_HOURS
    if (state.recentHour[slot] === at) values.push(state.recent[slot]!)
  }
  if (values.length * 2 < DAILY_HOURS) return NaN
  return median(values)
}

/** Lowest moisture of the day before; Infinity when there is none. */
function lowest(state: WaterState, before: number): number {
  let moisture = Infinity
  for (let slot = 0; slot < RECENT_HOURS; slot++) {
    const at = state.recentHour[slot]!
    if (at >= before - DAY && at < before) moisture = Math.min(moisture, state.recent[slot]!)
  }
  return moisture
}

/** The last hour of the day before in which it was no higher than `level`. */
function lastBelow(
  state: WaterState,
  before: number,
  level: number,
): { hour: number; moisture: number } {
  let hour = -Infinity
  let moisture = NaN
  for (let slot = 0; slot < RECENT_HOURS; slot++) {
    const at = state.recentHour[slot]!
    if (at >= before - DAY && at < before && at > hour && state.recent[slot]! <= level) {
      hour = at
      moisture = state.recent[slot]!
    }
  }
  return { hour, moisture }
}
