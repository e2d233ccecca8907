import { DAY, HOUR } from '../../model/clock.ts'
import type { JournalEntry } from '../../model/journal.ts'

/** How long before a change each kind of entry may be its cause. */
const TREATMENT_MS = 120 * DAY
const FRESH_TREATMENT_MS = 14 * DAY
const WATER_MS = 48 * HOUR
/** Entries are often written a little late. */
const LATE_ENTRY_MS = DAY
/** A wetting lowers a reading, and hardly ever by more than this (judgement). */
const WATER_CHANGE = 1

/**
 * The journal entry that may explain a change: a treatment of the last two weeks, else water of the last two
 * days when the pH fell by less than one, else the latest treatment of the last 120 days.
 */
export function explanation(
  journal: readonly JournalEntry[],
  since: number,
  change: number,
): JournalEntry | null {
  const latest = (kind: JournalEntry['kind'], withinMs: number): JournalEntry | undefined =>
    journal
      .filter((e) => e.kind === kind && e.at >= since - withinMs && e.at <= since + LATE_ENTRY_MS)
      .toSorted((a, b) => b.at - a.at)[0]
  const water = change < 0 && change > -WATER_CHANGE ? latest('irrigation', WATER_MS) : undefined
  return (
    latest('treatment', FRESH_TREATMENT_MS) ?? water ?? latest('treatment', TREATMENT_MS) ?? null
  )
}
