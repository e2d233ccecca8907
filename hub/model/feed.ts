import type { Bed, Spot, Texture } from './bed.ts'
import type { Calibration, Channel } from './probe.ts'
import type { Buckets, Step } from './series.ts'

/** One channel's columns within a feed. */
export interface FeedChannel {
  readonly channel: Channel
  readonly buckets: Buckets
}

/** What one probe sent while it sat in one spot: raw electrical columns and the calibrations to read them by. */
export interface SpotFeed {
  readonly spot: Spot
  readonly probe: string
  /** Of the bed; left out: not known. */
  readonly texture?: Texture
  /** The part of the placement inside the range that was asked for, epoch ms, `from <= t < to`. */
  readonly from: number
  readonly to: number
  readonly channels: readonly FeedChannel[]
  /** All dated calibrations of this probe, ascending in `at`. */
  readonly calibrations: readonly Calibration[]
}

/** All feeds of one bed in one range, one step. */
export interface BedFeeds {
  readonly bed: Bed
  readonly spots: readonly Spot[]
  readonly from: number
  readonly to: number
  readonly step: Step
  readonly feeds: readonly SpotFeed[]
}
