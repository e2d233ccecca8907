import { sinceNewBattery } from '../analysis/quality/low-supply.ts'
import { DAY } from '../model/clock.ts'
import type { BedFeeds } from '../model/feed.ts'
import type { ReadingStore } from '../store/reading-store.ts'

/** Longer than cells last that empty within a year. */
const DAYS_BACK = 400

export interface SupplyDays {
  /**
   * Voltages of the supply of every probe in these feeds that has such a channel: medians of the days of its present
   * battery, ascending in time; of other placements too, for a probe takes its battery along. By probe.
   */
  of(feeds: BedFeeds, at: number): Promise<ReadonlyMap<string, readonly number[]>>
}

/** Each probe is asked for once a UTC day: what its battery once had does not change while one looks. */
export function supplyDays(readings: Pick<ReadingStore, 'buckets'>): SupplyDays {
  const known = new Map<string, { readonly day: number; readonly levels: readonly number[] }>()
  return {
    async of({ feeds }, at) {
      const day = Math.floor(at / DAY)
      const channels = feeds.flatMap(({ probe, channels: own }) => {
        const supply = own.find(
          ({ channel: { senses, unit } }) => senses === 'bat' && !unit.startsWith('%'),
        )
        return supply === undefined ? [] : { probe, channel: supply.channel.name }
      })
      const missing = channels.filter(({ probe }) => known.get(probe)?.day !== day)
      if (missing.length > 0) {
        const range = { from: (day - DAYS_BACK) * DAY, to: (day + 1) * DAY, step: 'day' } as const
        const answers = await readings.buckets(missing.map((of) => ({ ...of, ...range })))
        for (const [i, { probe }] of missing.entries()) {
          known.set(probe, { day, levels: sinceNewBattery(answers[i]!.median) })
        }
      }
      return new Map(channels.map(({ probe }) => [probe, known.get(probe)!.levels]))
    },
  }
}
