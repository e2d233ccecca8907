import type { MoistureScale } from '../measure/spot-history.ts'

/** Hours of moisture that are looked back on: a day. */
export const RECENT_HOURS = 24
/** Wettings that are remembered, newest last. */
export const WETTINGS_KEPT = 20
/** Levels a day after wettings that are remembered, of all and of those that soaked the soil. */
export const DRAINED_KEPT = 40
export const SOAKED_KEPT = 30
/** Finished dry-downs that are remembered, newest last. */
export const DRY_DOWNS_KEPT = 10
/** Readings of a dry-down, one a day. */
export const DRYING_DAYS_KEPT = 30
/** Moisture seen is counted in classes of this width. */
export const CLASS_WIDTH = 0.005
export const CLASSES = 201

/** Water came: rain or a watering, seen at the probe. Moisture is on the probe's own scale. */
export interface Wetting {
  /** Epoch ms, start of the last hour before the rise, and of the hour in which it was highest. */
  readonly onset: number
  end: number
  readonly before: number
  peak: number
  /** How far it fell in the first day after its end, by draining and use; NaN while or when not known. */
  drained: number
}

/** The soil drying after it has drained, until water came again. */
export interface DryDown {
  /** Epoch ms, a day after the end of the wetting. */
  readonly from: number
  readonly to: number
  /** Loss of moisture per day, positive, and its standard error; the probe's own scale. */
  readonly perDay: number
  readonly perDaySe: number
}

/**
 * What one probe in one spot has learned about the water of its soil. Only whole numbers of hours go in; the
 * size is bounded. Plain data: it can be cloned, stored and gone on with.
 */
export interface WaterState {
  /** Scale of everything below; `unknown` until the first moisture. */
  scale: MoistureScale
  /** Start of the newest hour taken in, epoch ms; NaN before the first. */
  hour: number
  /** Since when the moisture is in one piece: before lies a time out of the soil, frost or a hole of a day. */
  unbrokenFrom: number
  /** Moisture of the last hours by `(hour / HOUR) mod RECENT_HOURS`, with the hour each belongs to. */
  readonly recent: Float64Array
  readonly recentHour: Float64Array
  /** Hours counted by class of moisture; halved when they make a year, so that old seasons fade. */
  readonly seen: Float64Array
  seenHours: number
  /** 95th and first percentile of `seen`, renewed once a day; NaN until there are two days. */
  seenHigh: number
  seenLow: number
  /** Drained level after each wetting, and after those that soaked the soil, newest last. */
  readonly drained: number[]
  readonly soaked: number[]
  /** 95th percentile of `drained`; third quartile of `soaked` and its distance to the first. NaN = none. */
  drainedHigh: number
  capacity: number
  capacitySpread: number
  /** Wettings seen since the learning began. */
  wetUps: number
  /** The wetting that is going on; the newest is also the last of `wettings` once it has ended. */
  wetting: Wetting | null
  readonly wettings: Wetting[]
  /** The dry-down that is going on: start, and one moisture a day from then on (NaN = that day had none). */
  drying: { readonly from: number; readonly days: number[] } | null
  readonly dryDowns: DryDown[]
}
