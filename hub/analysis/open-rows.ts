import type { ProbeNow, Shown } from './probe-now.ts'
import type { HourRow } from './watch/hour-row.ts'

/** The latest readings of each probe as rows of the hour that is still open. */
export function openRows(
  shown: readonly { readonly probe: ProbeNow; readonly shown: Shown }[],
): HourRow[] {
  return shown.map(({ probe: { feed, recent, hourly }, shown: s }) => ({
    spotId: feed.spot.id,
    probe: feed.probe,
    ph: s.ph,
    count: 1,
    raw: NaN,
    still: false,
    coarse: false,
    flags: s.flags,
    moisture: s.moisture,
    moistureLow: s.moisture,
    moistureScale: recent.moistureScale === 'unknown' ? hourly.moistureScale : recent.moistureScale,
    temperatureC: s.temperature,
  }))
}
