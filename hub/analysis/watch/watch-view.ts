import type { Insufficient } from '../assessment.ts'
import type { WaterCourse } from '../moisture/step-water-standing.ts'
import type { WaterStanding } from '../moisture/water-standing.ts'
import type { WatchEvent } from './event.ts'

/** Why a spot is or is not compared with its usual level just now. */
export type SpotWatching =
  /** Its usual level is not known yet. */
  | 'learning'
  | 'watched'
  /** Set aside after an alarm until it is clear what became of it. */
  | 'set aside'
  | 'dry'
  /** Its probe was handled and is settling. */
  | 'settling'
  /** Its newest readings cannot be believed. */
  | 'flagged'
  /** No reading in the last day. */
  | 'silent'

export interface SpotWatch {
  readonly spotId: number
  readonly probe: string
  readonly watching: SpotWatching
  /** Bits of `FLAG` of its newest hour. */
  readonly flags: number
  /** Usual level, pH; spread of its hourly deviations and their lag-one correlation; NaN = not known. */
  readonly usual: number
  readonly sd: number
  readonly phi: number
  /** False signals to expect a year from noise alone; NaN = not known. */
  readonly falsePerYear: number
  /** Newest hours with any reading and with a pH that counted, epoch ms; NaN = never. */
  readonly lastRow: number
  readonly lastPh: number
}

/** What the watch can say at one moment. */
export interface WatchView {
  readonly at: number
  /** Open, or ended within 30 days, newest first; one seen in the open hour only is first. */
  readonly events: readonly WatchEvent[]
  readonly spots: readonly SpotWatch[]
  /** What is missing before changes can be seen; null when at least one spot is watched. */
  readonly learning: Insufficient | null
  readonly water: WaterStanding
  readonly waterCourse: WaterCourse | null
}
