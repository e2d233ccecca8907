import type { Bed } from '../../model/bed.ts'
import type { JournalEntry } from '../../model/journal.ts'
import type { WatchEvent } from './event.ts'

/** Raised whenever what is remembered changes its shape or meaning: states of another version are built anew. */
export const WATCH_VERSION = 1

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
