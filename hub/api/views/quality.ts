import { spotHistory } from '../../analysis/measure/spot-history.ts'
import { checkHistory, checkNeighbours } from '../../analysis/quality/flags.ts'
import { qualitySummary } from '../../analysis/quality/quality-summary.ts'
import type { BedFeeds } from '../../model/feed.ts'
import type { JournalEntry } from '../../model/journal.ts'
import type { BedQuality } from '../schemas/findings.ts'

/** How the hours of a bed's probes fared in the quality tests. Visits that are written down are masked. */
export function qualityView(
  feeds: BedFeeds,
  journal: readonly JournalEntry[],
): BedQuality['probes'] {
  const checked = feeds.feeds.map((feed) => {
    const visits = [
      ...feed.calibrations.flatMap((c) => (c.kind === 'electrode' ? c.at : [])),
      ...journal.flatMap((e) => (e.kind === 'service' && e.probe === feed.probe ? e.at : [])),
    ].toSorted((a, b) => a - b)
    return checkHistory(spotHistory(feed, feeds.step), feeds.bed.texture, undefined, {
      serviced: visits,
    })
  })
  return checkNeighbours(checked).map((history) => {
    const { rows, all, tests } = qualitySummary(history)
    return {
      probe: history.feed.probe,
      spot: history.feed.spot.name,
      hours: rows,
      ...all,
      tests: tests.map(({ name, counts, meaning }) => ({ name, ...counts, meaning })),
    }
  })
}
