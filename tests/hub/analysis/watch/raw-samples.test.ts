import fc from 'fast-check'
import { expect, test } from 'vitest'
import { rollHours } from '#hub/analysis/aggregate/roll-hours.ts'
import type { WatchHour } from '#hub/analysis/watch/hour-row.ts'
import { watchHours } from '#hub/analysis/watch/watch-hours.ts'
import { HOUR, MINUTE } from '#hub/model/clock.ts'
import type { BedFeeds } from '#hub/model/feed.ts'
import type { Channel } from '#hub/model/probe.ts'
import type { Sensed } from '#hub/model/quantity.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import { BED, BLANK, START, watched } from './watched-bed.ts'

const DAYS = 30
const PER_HOUR = 4

interface Sample {
  readonly at: number
  readonly ph: number
  readonly moisture: number
}

/** Quarter-hourly readings of one spot that steps at day 20. */
function samplesOf(spot: number): Sample[][] {
  const random = seededRandom(31 + spot)
  return Array.from({ length: DAYS * 24 }, (_, hour) =>
    Array.from({ length: PER_HOUR }, (__, i) => ({
      at: START + hour * HOUR + i * 15 * MINUTE,
      ph: 6.2 + 0.2 * spot + (hour >= 480 ? 0.8 : 0) + random.normal(0, 0.04),
      moisture: 0.25 + random.normal(0, 0.002),
    })),
  )
}

const channel = (name: string, senses: Sensed, unit: string): Channel => ({
  probe: 'probe',
  name,
  senses,
  unit,
  low: null,
  high: null,
  resolution: 0.001,
  depthM: null,
  from: null,
  described: true,
})

function hoursOf(spots: readonly (readonly Sample[])[]): readonly WatchHour[] {
  const places = spots.map((_, i) => ({ id: i + 1, bedId: BED.id, name: `Spot ${i + 1}` }))
  const to = START + DAYS * 24 * HOUR
  const feeds: BedFeeds = {
    bed: BED,
    spots: places,
    from: START,
    to,
    step: 'hour',
    feeds: spots.map((samples, i) => {
      const time = Float64Array.from(samples, ({ at }) => at)
      return {
        spot: places[i]!,
        probe: `probe-${i}`,
        from: START,
        to,
        channels: [
          {
            channel: channel('ph', 'ph', 'pH'),
            buckets: rollHours(
              time,
              Float64Array.from(samples, ({ ph }) => ph),
            ),
          },
          {
            channel: channel('vwc', 'vwc', '/'),
            buckets: rollHours(
              time,
              Float64Array.from(samples, ({ moisture }) => moisture),
            ),
          },
        ],
        calibrations: [],
      }
    }),
  }
  return watchHours(feeds)
}

const context = { bed: BED, journal: [BLANK], calibratedAt: new Map(), others: [] }

test('readings that come twice or in another order within their hour change nothing', () => {
  const spots = [0, 1].map(samplesOf)
  const once = watched({ hours: hoursOf(spots.map((hours) => hours.flat())), context })
  expect(once.events).toHaveLength(1)
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 23 }),
      fc.integer({ min: 1, max: 3 }),
      fc.integer({ min: 1, max: 2 }),
      (every, turn, times) => {
        const disturbed = spots.map((hours) =>
          hours.flatMap((samples, hour) => {
            if (hour % every !== 0) return samples
            const values = [...samples.slice(turn), ...samples.slice(0, turn)]
            const turned = samples.map(({ at }, i) => ({ ...values[i]!, at }))
            return turned.flatMap((sample) => Array<Sample>(times).fill(sample))
          }),
        )
        const again = watched({ hours: hoursOf(disturbed), context })
        expect(again.events).toEqual(once.events)
        expect(again.days).toEqual(once.days)
      },
    ),
    { numRuns: 8, seed: 6 },
  )
})
