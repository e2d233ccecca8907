import type { BedFeeds } from '../../model/feed.ts'
import { type MoistureScale, type SpotHistory, spotHistory } from '../measure/spot-history.ts'
import { FLAG } from '../quality/flags.ts'
import { COARSE_PH } from '../quality/flat-line.ts'
import { isBeyondElectrode, isSoilPh, isSoilTemperature } from '../quality/gross-range.ts'
import type { HourRow, WatchHour } from './hour-row.ts'

/** The scale of one row; a column may change from shares to volumes. */
function scaleOf({ moistureScale, byVolume }: SpotHistory, row: number): MoistureScale {
  if (moistureScale !== 'volume') return moistureScale
  return byVolume[row] === 1 ? 'volume' : 'probe range'
}

/**
 * Feeds of step `hour` as the rows the watch takes in, ascending, hours without any row left out. A row depends on
 * readings up to its own end only: gone through later, history reads as it read then.
 */
export function watchHours(feeds: BedFeeds): readonly WatchHour[] {
  const rows = new Map<number, HourRow[]>()
  for (const feed of feeds.feeds) {
    const history = spotHistory(feed, feeds.step, { causal: true })
    // A probe that does not tell its step is taken for a coarse one.
    const coarse = !(history.resolutionPh <= COARSE_PH)
    for (const [row, hour] of history.time.entries()) {
      const ph = history.ph[row]!
      let flags = 0
      if (Number.isNaN(ph)) flags |= FLAG.missing
      else if (!isSoilPh(ph) || history.clipped[row] === 1) flags |= FLAG.range
      if (isBeyondElectrode(history.temperature[row]!)) flags |= FLAG.temperature
      const celsius = history.temperature[row]!
      const own: HourRow = {
        spotId: feed.spot.id,
        probe: feed.probe,
        ph,
        count: Number.isFinite(history.phCount[row]) ? history.phCount[row]! : 0,
        raw: history.rawPh[row]!,
        still: history.rawPhMin[row] === history.rawPhMax[row],
        coarse,
        flags,
        moisture: history.moisture[row]!,
        moistureLow: history.moistureLow[row]!,
        moistureScale: scaleOf(history, row),
        temperatureC: isSoilTemperature(celsius) ? celsius : NaN,
      }
      const others = rows.get(hour)
      if (others === undefined) rows.set(hour, [own])
      else others.push(own)
    }
  }
  return Array.from(rows, ([hour, of]) => ({ hour, rows: of })).toSorted((a, b) => a.hour - b.hour)
}
