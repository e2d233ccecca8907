import type { Bed } from '../model/bed.ts'
import { DAY, HOUR } from '../model/clock.ts'
import type { BedFeeds } from '../model/feed.ts'
import type { JournalEntry } from '../model/journal.ts'
import type { Assessment, SpotView } from './assessment.ts'
import { bandFor } from './band.ts'
import { bandStay } from './band-stay.ts'
import { type ShownProbe, isUncalibrated, phNow, plainNow } from './bed-now.ts'
import { lookAt } from './look.ts'
import { openRows } from './open-rows.ts'
import { probesNow, shownBy } from './probe-now.ts'
import { sentenceFor } from './sentence.ts'
import { standingOf } from './standing.ts'
import type { Study } from './study.ts'
import { peekWatch } from './watch/peek-watch.ts'
import type { WatchContext, WatchState } from './watch/watch-state.ts'

/** Hours that must be handed in, ending at `at`: the habits of the spots are learned from them. */
export const ASSESS_HOURLY_MS = 45 * DAY
/** Raw readings that must be handed in, ending at `at`. */
export const ASSESS_RECENT_MS = 48 * HOUR

/**
 * All that can be said of one bed at one time. Pure: the same for live, history and replay. `series.hourly`
 * and `series.recent` are the feeds of the two windows above, with steps `hour` and `raw`; `watch` has taken in
 * all closed hours; `study` is what the slow questions came to, null before the first time. Too little data is an
 * answer, not an error.
 */
export function assess(
  bed: Bed,
  series: { readonly hourly: BedFeeds; readonly recent: BedFeeds },
  watch: { readonly state: WatchState; readonly context: WatchContext },
  study: Study | null,
  journal: readonly JournalEntry[],
  at: number,
): Assessment {
  const shown = probesNow(series).map((probe) => ({ probe, shown: shownBy(probe, at) }))
  const view = peekWatch(watch.state, openRows(shown), watch.context, at)
  const look = lookAt(
    bed,
    shown.map(({ probe, shown: s }) => ({
      spotId: probe.feed.spot.id,
      spot: probe.feed.spot.name,
      probe: probe.feed.probe,
      ph: s.ph,
      flags: s.flags,
      leftOut: s.leftOut,
      uncalibrated: isUncalibrated(probe),
    })),
    view,
    at,
    {
      stay: bandStay(watch.state, bed),
      ahead: study?.forecast.status === 'ok' ? study.forecast : null,
    },
  )
  const probes: ShownProbe[] = shown.map(({ probe, shown: s }, i) => ({
    probe,
    shown: s,
    leftOut: look.spots[i]!.leftOut,
  }))
  const { present: ph, disagree } = phNow(probes, at)
  const band = bandFor(bed)
  const standing = standingOf(ph, band.band)
  return {
    ...look,
    ph,
    moisture: plainNow(probes, 'moisture'),
    temperature: plainNow(probes, 'temperature'),
    band,
    standing,
    watch: view,
    study,
    spots: probes.map(spotView),
    sentence: sentenceFor({
      bed,
      ph,
      band,
      standing,
      shift: look.shift,
      findings: look.probes,
      disagree,
      journal,
      at,
    }),
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
