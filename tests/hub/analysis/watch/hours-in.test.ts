import fc from 'fast-check'
import { expect, test } from 'vitest'
import { FLAG } from '#hub/analysis/quality/flags.ts'
import { watchHours } from '#hub/analysis/watch/watch-hours.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import type { BedFeeds, FeedChannel, SpotFeed } from '#hub/model/feed.ts'
import type { Channel, ElectrodeCalibration } from '#hub/model/probe.ts'
import { emptyBuckets } from '#hub/model/series.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import { BED, START } from './watched-bed.ts'

type HourValue = readonly [hour: number, low: number, middle: number, high: number, count: number]

function channel(probe: string, part: Partial<Channel>, values: readonly HourValue[]): FeedChannel {
  const buckets = emptyBuckets('hour', values.length)
  for (const [row, [hour, low, middle, high, count]] of values.entries()) {
    buckets.time[row] = START + hour * HOUR
    buckets.min[row] = low
    buckets.median[row] = middle
    buckets.mean[row] = middle
    buckets.max[row] = high
    buckets.count[row] = count
  }
  const plain = { low: null, high: null, resolution: null, depthM: null, from: null }
  const said = { probe, name: 'ph', senses: 'ph', unit: 'pH', described: true } as const
  return { channel: { ...plain, ...said, ...part }, buckets }
}

function feedsOf(feeds: readonly Omit<SpotFeed, 'from' | 'to'>[]): BedFeeds {
  const range = { from: START, to: START + 90 * DAY }
  return {
    bed: BED,
    spots: feeds.map(({ spot }) => spot),
    ...range,
    step: 'hour',
    feeds: feeds.map((feed) => ({ ...feed, ...range })),
  }
}

const spotOf = (id: number) => ({ id, bedId: BED.id, name: `Spot ${id}` })
const plain = (hour: number, value: number): HourValue => [
  hour,
  value - 0.02,
  value,
  value + 0.02,
  4,
]

test('rows of all spots are joined by the hour, ascending, without empty hours', () => {
  const hours = watchHours(
    feedsOf([
      {
        spot: spotOf(2),
        probe: 'b',
        calibrations: [],
        channels: [channel('b', {}, [plain(1, 6.5), plain(4, 6.6)])],
      },
      {
        spot: spotOf(1),
        probe: 'a',
        calibrations: [],
        channels: [
          channel('a', {}, [plain(0, 6.1), plain(4, 6.2)]),
          channel('a', { name: 'vwc', senses: 'vwc', unit: '/' }, [
            [4, 0.01, 0.22, 0.23, 4],
            [5, 0.2, 0.21, 0.22, 4],
          ]),
          channel('a', { name: 'st', senses: 'temp.soil', unit: 'Cel' }, [plain(4, 14)]),
        ],
      },
    ]),
  )
  expect(hours.map(({ hour }) => (hour - START) / HOUR)).toEqual([0, 1, 4, 5])
  const both = hours[2]!.rows
  expect(both.map(({ spotId, probe, ph }) => [spotId, probe, ph])).toEqual([
    [2, 'b', 6.6],
    [1, 'a', 6.2],
  ])
  expect(both[1]).toMatchObject({
    count: 4,
    flags: 0,
    still: false,
    moisture: 0.22,
    moistureLow: 0.01,
    moistureScale: 'volume',
    temperatureC: 14,
  })
  // Moisture alone is a row without a pH.
  expect(hours[3]!.rows[0]).toMatchObject({ flags: FLAG.missing, moisture: 0.21, count: 0 })
})

test.each([
  { what: 'a code of a failing probe', ph: 14, celsius: 15, flags: FLAG.range },
  { what: 'zero', ph: 0, celsius: 15, flags: FLAG.range },
  { what: 'soil too cold for an electrode', ph: 6.4, celsius: 1, flags: FLAG.temperature },
  { what: 'both', ph: -99_999, celsius: 55, flags: FLAG.range | FLAG.temperature },
  { what: 'nothing odd', ph: 6.4, celsius: 3, flags: 0 },
])('$what is flagged', ({ ph, celsius, flags }) => {
  const hours = watchHours(
    feedsOf([
      {
        spot: spotOf(1),
        probe: 'a',
        calibrations: [],
        channels: [
          channel('a', {}, [plain(0, ph)]),
          channel('a', { name: 'st', senses: 'temp.soil', unit: 'Cel' }, [plain(0, celsius)]),
        ],
      },
    ]),
  )
  expect(hours[0]!.rows[0]!.flags).toBe(flags)
})

test('a value at the limit of the input is flagged, one that stands still is marked', () => {
  const row = (resolution: number | null) =>
    watchHours(
      feedsOf([
        {
          spot: spotOf(1),
          probe: 'a',
          calibrations: [],
          channels: [channel('a', { low: 3, high: 10, resolution }, [[0, 10, 10, 10, 4]])],
        },
      ]),
    )[0]!.rows[0]
  expect(row(0.001)).toMatchObject({ flags: FLAG.range, still: true, coarse: false, raw: 10 })
  // Tenths, or no word of how fine they are: standing still for hours is nothing odd.
  expect(row(0.1)).toMatchObject({ still: true, coarse: true })
  expect(row(null)).toMatchObject({ still: true, coarse: true })
})

test('a row depends on nothing that came after its hour', () => {
  const random = seededRandom(5)
  const length = 30 * 24
  const series = (middle: number, sd: number, lost = 0.15): HourValue[] =>
    Array.from({ length }, (_, hour) => plain(hour, random.normal(middle, sd))).filter(
      () => !random.chance(lost),
    )
  const emf = series(30, 12)
  const soil = series(12, 6, 0.6)
  const wet = series(0.25, 0.03)
  const calibrations: ElectrodeCalibration[] = [3, 17].map((day, i) => ({
    kind: 'electrode',
    id: i + 1,
    probe: 'a',
    channel: 'phmv',
    at: START + day * DAY,
    points: [
      { ph: 7, emfMv: 2 + 4 * i },
      { ph: 4.01, emfMv: 170 - 3 * i },
    ],
    temperatureC: 20,
    note: '',
  }))
  const until = (hour: number, known: readonly ElectrodeCalibration[]): BedFeeds => {
    const cut = (values: readonly HourValue[]): HourValue[] => values.filter(([at]) => at < hour)
    const channels = [
      channel('a', { name: 'phmv', senses: 'ph.emf', unit: 'mV', resolution: 0.1 }, cut(emf)),
      channel('a', { name: 'st', senses: 'temp.soil', unit: 'Cel' }, cut(soil)),
      channel('a', { name: 'vwc', senses: 'vwc', unit: '/' }, cut(wet)),
    ]
    return feedsOf([{ spot: spotOf(1), probe: 'a', calibrations: known, channels }])
  }
  const all = watchHours(until(length, calibrations))
  expect(all.length).toBeGreaterThan(600)
  fc.assert(
    fc.property(fc.integer({ min: 1, max: length }), (hour) => {
      const end = START + hour * HOUR
      const known = calibrations.filter(({ at }) => at < end)
      expect(watchHours(until(hour, known))).toEqual(all.filter((row) => row.hour < end))
    }),
    { numRuns: 40, seed: 2 },
  )
})
