import type { PhBand } from '../model/bed.ts'
import type { BandStay } from './band-stay.ts'
import type { BandForecast } from './forecast/forecast-band.ts'
import type { WaterStateName } from './moisture/step-water-standing.ts'
import type { WaterStanding } from './moisture/water-standing.ts'
import type { Cause, WatchEvent } from './watch/event.ts'
import type { Study } from './study.ts'
import type { WatchView } from './watch/watch-view.ts'

/** "Not enough data" is a normal answer, with what is there and what is needed. */
export interface Insufficient {
  readonly status: 'insufficient'
  readonly have: string
  readonly need: string
}

/** A value with its doubt. */
export interface Estimate {
  readonly status: 'ok'
  readonly value: number
  /** Half-width of the 95 % interval, same unit. */
  readonly halfWidth: number
  /** When the newest reading behind it was measured, epoch ms. */
  readonly at: number
  /** Spots that went into it, by name; and those left out, with the reason in words. */
  readonly used: readonly string[]
  readonly leftOut: readonly { readonly spot: string; readonly reason: string }[]
}

export type Present = Estimate | Insufficient

/** The band a bed is held against. */
export type BandView =
  | {
      readonly status: 'own' | 'crops'
      readonly band: PhBand
      /** One crop's band in the sentence, or how several were intersected. */
      readonly sentence: string
    }
  /** The crops' bands do not overlap: which cannot share is in the sentence. */
  | { readonly status: 'empty'; readonly band: null; readonly sentence: string }
  | { readonly status: 'none'; readonly band: null; readonly sentence: string }

/** Where the bed stands against its band. `near` edges count as inside. */
export type Standing = 'in band' | 'below' | 'above' | 'unsure' | 'unknown'

/** A change of level of the bed within 30 days. */
export interface ShiftFinding {
  /** `harmful`: more than 1.0 pH unit; `early`: from 0.5. */
  readonly grade: 'harmful' | 'early'
  readonly from: number
  readonly to: number
  /** Signed, pH. */
  readonly change: number
  /** Half-width of the 90 % interval of the change. */
  readonly changeHalfWidth: number
  /** When it began, epoch ms, as well as it can be told. */
  readonly since: number
  readonly spotsMoved: readonly string[]
  readonly spotsSteady: readonly string[]
  /** Probability 0..1 that the change is real and beyond the limit of its grade. */
  readonly sureness: number
  /** Journal entry that may explain it (a treatment shortly before). */
  readonly journalId: number | null
  readonly cause: Cause
  /** False while the cause is provisional: the first day. */
  readonly decided: boolean
  /** The event behind it. */
  readonly event: WatchEvent
}

/** Something about one probe that keeps its pH from being believed. */
export interface ProbeFinding {
  readonly probe: string
  readonly spot: string
  readonly kind: 'out of range' | 'flat line' | 'apart from the bed' | 'uncalibrated' | 'dry soil'
  /** False for what only needs telling (dry soil, uncalibrated): no alarm. */
  readonly needsCheck: boolean
  /** Level before and now, pH, where the finding is about a level. */
  readonly from: number | null
  readonly to: number | null
  readonly since: number | null
  readonly sentence: string
}

/** One spot now. */
export interface SpotView {
  readonly spotId: number
  readonly spot: string
  readonly probe: string
  /** Level: median of the latest readings. */
  readonly ph: number | null
  /** The newest reading alone, whether it counts or not. */
  readonly newestPh: number | null
  readonly moisture: number | null
  readonly temperatureC: number | null
  readonly at: number | null
  /** Why its pH does not count, or null when it does. */
  readonly leftOut: string | null
}

/** The bed's water in figures, in a word, and in sentences. */
export interface WaterFinding {
  readonly state: WaterStateName
  /** Since when it is in that state, epoch ms; null when unknown. */
  readonly since: number | null
  readonly standing: WaterStanding
  readonly sentence: string
  readonly grounds: readonly string[]
}

/** What raises alarms: what the watch over the hours can say of a bed at one time. */
export interface BedLook {
  readonly bedId: number
  readonly bed: string
  readonly at: number
  readonly shift: ShiftFinding | null
  readonly probes: readonly ProbeFinding[]
  readonly water: WaterFinding
  /** Its level of the last day against its band; null without a band, or when nothing can be said. */
  readonly stay: BandStay | null
  /** Whether it has a band at all; without one `stay` and `ahead` say nothing for good. */
  readonly hasBand: boolean
  /** What lies ahead, gone through once a day; null before the first time, and when history is gone through. */
  readonly ahead: BandForecast | null
  /** Spots that hold a probe now, and why the pH of some does not count. */
  readonly spots: readonly {
    readonly spotId: number
    readonly spot: string
    readonly probe: string
    readonly leftOut: string | null
  }[]
}

/** All that is known of one bed at one time. */
export interface Assessment extends BedLook {
  readonly ph: Present
  readonly moisture: Present
  readonly temperature: Present
  readonly band: BandView
  readonly standing: Standing
  /** What the watch remembers, newest first, and what it says of each spot. */
  readonly watch: WatchView
  /** What the slow questions came to; null before they were first gone through. */
  readonly study: Study | null
  readonly spots: readonly SpotView[]
  /** What happened, how sure, what to do next: for the lane on the garden page. */
  readonly sentence: string
}

/** A bed's history of one quantity, columns of equal length, NaN = missing. */
export interface BedHistory {
  readonly stepMs: number
  /** Epoch ms, start of the bucket (the reading's grid time for raw). */
  readonly time: Float64Array
  /** Bed value and its 95 % interval. */
  readonly value: Float64Array
  readonly low: Float64Array
  readonly high: Float64Array
  /** Lowest and highest reading of any counted spot in the bucket. */
  readonly min: Float64Array
  readonly max: Float64Array
  readonly spots: readonly {
    readonly spotId: number
    readonly spot: string
    readonly probe: string
    readonly value: Float64Array
    /** 1 where the value was left out of the bed value (dry, flat, out of range), else 0. */
    readonly leftOut: Uint8Array
  }[]
}
