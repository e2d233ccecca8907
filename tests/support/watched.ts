import { assess } from '#hub/analysis/assess.ts'
import type { Assessment } from '#hub/analysis/assessment.ts'
import { foldBeds, type Folding } from '#hub/analysis/watch/fold-beds.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import { watchHours } from '#hub/analysis/watch/watch-hours.ts'
import type { Bed } from '#hub/model/bed.ts'
import { HOUR, MINUTE } from '#hub/model/clock.ts'
import type { BedFeeds } from '#hub/model/feed.ts'
import type { JournalEntry } from '#hub/model/journal.ts'

/** The watch of one bed after every hour of these feeds that was closed by `at`. */
export function watched(
  bed: Bed,
  hourly: BedFeeds,
  journal: readonly JournalEntry[],
  at: number,
): Pick<Folding, 'state' | 'context'> {
  const calibratedAt = new Map<string, number[]>()
  for (const { probe, calibrations } of hourly.feeds) {
    const times = calibrations.flatMap((c) => (c.kind === 'electrode' ? c.at : []))
    calibratedAt.set(
      probe,
      times.toSorted((a, b) => a - b),
    )
  }
  const hours = watchHours(hourly)
  const closed = Math.floor((at - 2 * MINUTE) / HOUR) * HOUR
  const folding: Folding = {
    state: startWatch(bed, hours[0]?.hour ?? closed),
    context: {
      bed,
      journal: journal.toSorted((a, b) => a.at - b.at),
      calibratedAt,
      others: [],
    },
    hours: hours.filter(({ hour }) => hour < closed),
  }
  if (folding.state.cursor < closed) foldBeds([folding], closed)
  return folding
}

/** The assessment of one bed as the hub would make it at `at`, without a study. */
export function assessed(
  bed: Bed,
  series: { readonly hourly: BedFeeds; readonly recent: BedFeeds },
  journal: readonly JournalEntry[],
  at: number,
): Assessment {
  return assess(bed, series, watched(bed, series.hourly, journal, at), null, journal, at)
}
