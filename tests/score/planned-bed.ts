import type { DailySeries } from '#hub/analysis/aggregate/daily-series.ts'
import type { StudiedBed } from '#hub/analysis/study.ts'
import type { Bed } from '#hub/model/bed.ts'
import type { JournalEntry } from '#hub/model/journal.ts'

/** A bed as the slow questions need it, known by its days alone. */
export function studiedFrom(
  bed: Bed,
  days: DailySeries,
  journal: readonly JournalEntry[],
): StudiedBed {
  return {
    bed,
    days: {
      bed: days,
      spots: [],
      needed: { spots: 3, effective: 3, spotSd: 0.18, halfWidth: 0.25, needed: 4, outlying: null },
    },
    journal,
  }
}
