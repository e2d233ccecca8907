import type { SpotDay } from '../model/spot-day.ts'

/** What the watch of one bed knew when all hours before `hour` had been taken in. */
export interface Remembered {
  readonly bedId: number
  /** Epoch ms, start of the first hour that is not in it. */
  readonly hour: number
  /** Version of the state's shape. */
  readonly version: number
  /** Anything the structured clone algorithm can copy. */
  readonly state: unknown
}

/**
 * Memory of the watch over the hours: states to go on from, and the days it left. Nothing here is irreplaceable: it
 * can be made again from readings and journal. Always SQLite. Every method is one transaction.
 */
export interface WatchStore {
  /** The newest state of this version with `hour <= notAfter`; null when there is none. */
  recallWatch(bedId: number, version: number, notAfter: number): Promise<Remembered | null>
  /**
   * Keeps states and day rows of one bed. With `from` everything remembered of later hours goes first: states
   * with `hour > from` and days that had not ended then. Of the older states only some are kept: those of
   * midnight UTC in the last 14 days, before that one in 30 days.
   */
  rememberWatch(
    bedId: number,
    memory: {
      readonly from: number | null
      readonly states: readonly Omit<Remembered, 'bedId'>[]
      readonly days: readonly SpotDay[]
    },
  ): Promise<void>
  /** Day rows of one bed with `from <= day < to`, by day, spot and probe. */
  spotDays(bedId: number, from: number, to: number): Promise<readonly SpotDay[]>
  close(): Promise<void>
}
