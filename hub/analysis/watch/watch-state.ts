import type { Bed } from '../../model/bed.ts'
import type { JournalEntry } from '../../model/journal.ts'
import type { WaterCourse } from '../moisture/step-water-standing.ts'
import type { WaterState } from '../moisture/water-state.ts'
import type { Cusum } from '../stats/cusum-step.ts'
import type { CauseEvidence, SpotMove, WatchEvent } from './event.ts'

/** Raised whenever what is remembered changes its shape or meaning: states of another version are built anew. */
export const WATCH_VERSION = 3

/** Hours that are looked back on: what a cause is read from. */
export const BACK_HOURS = 96
/** Accepted days a baseline rests on, and those kept for it: the newest is not used yet. */
export const BASE_DAYS = 7
export const KEPT_DAYS = 9
/** Residuals from which a spot's usual noise is learned: 30 days. */
export const NOISE_HOURS = 720
/** Daily levels that are compared: today and 30 days back. */
export const LEVEL_DAYS = 31

/** What the watch is told besides the readings. */
export interface WatchContext {
  readonly bed: Bed
  /** The bed's journal, ascending in time; may reach beyond the hour that is looked at: the watch ignores later entries. */
  readonly journal: readonly JournalEntry[]
  /** Electrode calibrations of each probe, epoch ms, ascending; a calibration is a handling too. */
  readonly calibratedAt: ReadonlyMap<string, readonly number[]>
  /** Events of the garden's other beds; only those noticed before the hour that is looked at count. */
  readonly others: readonly WatchEvent[]
}

/** The last hours of a spot by `(hour / HOUR) mod BACK_HOURS`; what is older than that shows in `hour`. */
export interface Recent {
  readonly hour: Float64Array
  /** Value that counts (valid, not being handled; dry hours too), its deviation from the usual hour. */
  readonly ph: Float64Array
  readonly residual: Float64Array
  readonly available: Float64Array
  readonly moisture: Float64Array
  /** Soil temperature against its own usual hour, degrees Celsius. */
  readonly warming: Float64Array
}

/** What is remembered of one probe in one spot. */
export interface SpotState {
  readonly spotId: number
  readonly probe: string
  water: WaterState
  /** Newest hour with any row, and with a pH that counted; epoch ms, NaN before. */
  lastRow: number
  lastPh: number
  /** Readings an hour usually holds. */
  usualCount: number
  /** A value that stands still: which, since when, over how many readings. */
  stillRaw: number
  stillSince: number
  stillReadings: number
  /** Flags of the newest row; 0 when its pH was valid. */
  lastFlags: number
  /** Accepted days, oldest first, 24 values each, with the day of each. */
  readonly days: Float64Array
  readonly dayOf: Float64Array
  keptDays: number
  /** The day that is going on, and how many of its hours may become baseline. */
  today: number
  readonly todayPh: Float64Array
  /** Usual value of each UTC hour; NaN while there is none. */
  readonly base: Float64Array
  /** Sum of all rebasings so far, pH. */
  rebased: number
  readonly recent: Recent
  /** Deviations of quiet hours, ring; how many ever; spread and lag-one correlation, renewed daily. */
  readonly noise: Float64Array
  noiseSeen: number
  sd: number
  phi: number
  readonly sums: Cusum
  /** The sums one and two hours ago: a visit spoils the two hours before it. */
  readonly back: [Cusum, Cusum]
  /** Set aside since an alarm: its values do not become baseline. */
  held: { readonly since: number; readonly eventId: string } | null
  /** Handlings seen in the readings, epoch ms, newest last. */
  readonly seenVisits: number[]
  /** The newest handling, seen or written down; -Infinity before the first. */
  lastVisit: number
  /** After a visit: the usual deviation before it (0 unless set aside), those of the hours since its mask ended. */
  settling: { readonly visit: number; before: number; readonly residuals: number[] } | null
  /** When the newest handling had shown what level it left, epoch ms; Infinity until then, -Infinity before the first. */
  shownAt: number
  /** Usual soil temperature of each UTC hour. */
  readonly usualC: Float64Array
  /** Daily levels, ring by day, with the day of each. */
  readonly level: Float64Array
  readonly levelDay: Float64Array
  /** What becomes the day's row. */
  gathered: Gathered
}

export interface Gathered {
  day: number
  readonly ph: number[]
  moisture: number
  moistureHours: number
  available: number
  availableHours: number
  celsius: number
  celsiusHours: number
}

type Writable<T> = { -readonly [K in keyof T]: T[K] }

/** An event as the watch keeps it: it grows. */
export interface KeptEvent extends Writable<Omit<WatchEvent, 'spots' | 'evidence'>> {
  spots: Writable<SpotMove>[]
  evidence: CauseEvidence
  /** Key of the spot that was first. */
  readonly first: string
  /** Since when it has been back; null while not. */
  backSince: number | null
}

/** The watch over one bed. Plain data: cloned, stored and gone on with. */
export interface WatchState {
  readonly version: number
  readonly bedId: number
  /** Epoch ms, start of the next hour to be taken in. */
  cursor: number
  readonly spots: SpotState[]
  /** Ascending in time of notice. */
  events: KeptEvent[]
  water: WaterCourse | null
  /** Days in a row on which the same slow change was there: key of what moved, and how many. */
  readonly ramps: { readonly key: string; days: number; lastDay: number }[]
}

export const keyOf = (spot: { readonly spotId: number; readonly probe: string }): string =>
  `${spot.spotId}/${spot.probe}`
