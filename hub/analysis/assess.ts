import type { Bed } from '../model/bed.ts'
import { DAY, HOUR } from '../model/clock.ts'
import type { BedFeeds } from '../model/feed.ts'
import type { JournalEntry } from '../model/journal.ts'
import type { Assessment, SpotView } from './assessment.ts'
import { bandFor } from './band.ts'
import { type ShownProbe, phNow, plainNow } from './bed-now.ts'
import { probeFindings } from './probe-findings.ts'
import { probesNow, shownBy } from './probe-now.ts'
import { sentenceFor } from './sentence.ts'
import { findApart } from './shift/find-apart.ts'
import { findShift } from './shift/find-shift.ts'
import { spotLevels } from './shift/spot-levels.ts'
import { standingOf } from './standing.ts'

/** Hours that must be handed in, ending at `at`: 30 days to compare with, some to learn habits from. */
export const ASSESS_HOURLY_MS = 45 * DAY
/** Raw readings that must be handed in, ending at `at`. */
export const ASSESS_RECENT_MS = 48 * HOUR

/**
 * All that can be said of one bed at one time. Pure: the same for live, history and replay. `series.hourly`
 * and `series.recent` are the feeds of the two windows above, with steps `hour` and `raw`; `journal` the bed's
 * entries of the last 160 days or more: a treatment may explain a change for 120. Too little data is an
 * answer, not an error.
 */
export function assess(
  bed: Bed,
  series: { readonly hourly: BedFeeds; readonly recent: BedFeeds },
  journal: readonly JournalEntry[],
  at: number,
): Assessment {
  const now = probesNow(series)
  const shown = now.map((probe) => ({ probe, shown: shownBy(probe, at) }))
  const levels = shown
    .filter(({ shown: s }) => s.leftOut === null)
    .map(({ probe }) => spotLevels(probe, journal, at))
  const shift = findShift(levels, journal, at)
  const apart = findApart(levels, at).filter(
    ({ levels: l }) => shift === null || !shift.spotsMoved.includes(l.probe.feed.spot.name),
  )

  // One probe that left the others is kept out as long as two agree without it.
  const believed = shown.filter(
    ({ probe, shown: s }) => s.leftOut === null && !apart.some((a) => a.levels.probe === probe),
  )
  const outvoted = new Set(believed.map(({ probe }) => probe.feed.spot.id)).size >= 2
  const probes: ShownProbe[] = shown.map(({ probe, shown: s }) => ({
    probe,
    shown: s,
    leftOut:
      s.leftOut ??
      (outvoted && apart.some((a) => a.levels.probe === probe)
        ? 'it moved by itself while the rest of the bed stayed'
        : null),
  }))

  const { present: ph, disagree } = phNow(probes, at)
  const band = bandFor(bed)
  const standing = standingOf(ph, band.band)
  const findings = probeFindings(shown, apart)
  return {
    bedId: bed.id,
    bed: bed.name,
    at,
    ph,
    moisture: plainNow(probes, 'moisture'),
    temperature: plainNow(probes, 'temperature'),
    band,
    standing,
    shift,
    probes: findings,
    spots: probes.map(spotView),
    sentence: sentenceFor({ bed, ph, band, standing, shift, findings, disagree, journal, at }),
  }
}

function spotView({ probe, shown, leftOut }: ShownProbe): SpotView {
  const known = (value: number): number | null => (Number.isFinite(value) ? value : null)
  return {
    spotId: probe.feed.spot.id,
    spot: probe.feed.spot.name,
    probe: probe.feed.probe,
    ph: known(shown.ph),
    newestPh: known(shown.newestPh),
    moisture: known(shown.moisture),
    temperatureC: known(shown.temperature),
    at: known(shown.at),
    leftOut,
  }
}
