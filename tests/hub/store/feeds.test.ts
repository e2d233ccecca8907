import { expect, onTestFinished, test } from 'vitest'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { FeedChannel } from '#hub/model/feed.ts'
import type { Channel, Placement } from '#hub/model/probe.ts'
import { bucketRange, loadFeeds } from '#hub/store/feeds.ts'
import { openStores } from '#hub/store/open.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const MIDNIGHT = Date.UTC(2025, 5, 15)
const at = (hours: number): number => MIDNIGHT + hours * HOUR
const WIDE = { from: at(-100), to: at(100) }

const placement = (from: number, to: number | null, id = 1): Placement => ({
  id,
  probe: 'row1',
  spotId: id,
  from: at(from),
  to: to === null ? null : at(to),
})
const hours = (range: { from: number; to: number }) => ({
  from: (range.from - MIDNIGHT) / HOUR,
  to: (range.to - MIDNIGHT) / HOUR,
})

test.for([
  ['alone: partly filled hours count', placement(2.5, 6.5), [], { from: 2, to: 7 }],
  ['still there: up to the end of the range', placement(2.5, null), [], { from: 2, to: 100 }],
  [
    'after another in the same hour',
    placement(2.5, null),
    [placement(0, 2.25, 2)],
    { from: 3, to: 100 },
  ],
  ['right after another', placement(2.5, null), [placement(0, 2.5, 2)], { from: 3, to: 100 }],
  [
    'after another that ended in the hour before',
    placement(2.5, null),
    [placement(0, 2, 2)],
    { from: 2, to: 100 },
  ],
  [
    'right after another on the hour',
    placement(2, null),
    [placement(0, 2, 2)],
    { from: 2, to: 100 },
  ],
  ['before another', placement(2, 6.5), [placement(6.5, null, 2)], { from: 2, to: 6 }],
  [
    'before another that began in a later hour',
    placement(2, 6.5),
    [placement(7, null, 2)],
    { from: 2, to: 7 },
  ],
  ['before another on the hour', placement(2, 6), [placement(6, null, 2)], { from: 2, to: 6 }],
  [
    'within one hour between two others',
    placement(2.2, 2.8),
    [placement(0, 2.2, 2), placement(2.8, 9, 3)],
    { from: 3, to: 2 },
  ],
] as const)('buckets of a placement %s', ([, place, others, expected]) => {
  expect(hours(bucketRange(place, others, WIDE, 'hour'))).toEqual(expected)
})

test('readings as such are cut at the very moment, and the range wins over the placement', () => {
  const others = [placement(0, 2.5, 2), placement(6.5, 9, 3)]
  expect(hours(bucketRange(placement(2.5, 6.5), others, WIDE, 'raw'))).toEqual({
    from: 2.5,
    to: 6.5,
  })
  const narrow = { from: at(3), to: at(5) }
  expect(hours(bucketRange(placement(2.5, 6.5), others, narrow, 'hour'))).toEqual({
    from: 3,
    to: 5,
  })
})

/** The first channel that is not the supply. */
const notSupply = (channels: readonly FeedChannel[]): FeedChannel | undefined =>
  channels.find(({ channel: { senses } }) => senses !== 'bat')

const channel = (name: string, senses: Channel['senses']): Omit<Channel, 'probe'> => ({
  name,
  senses,
  unit: '',
  low: null,
  high: null,
  resolution: null,
  depthM: null,
  from: null,
  described: true,
})

test('each spot gets what a probe sent while it sat there, and nothing of before, after or elsewhere', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  onTestFinished(() => stores.close())
  const { garden, readings } = stores
  const shape = { areaM2: 1, depthM: 0.3, texture: 'loam', crops: [], ownBand: null } as const
  const north = await garden.addBed({ ...shape, name: 'North' }, 0)
  const south = await garden.addBed({ ...shape, name: 'South' }, 0)
  const left = await garden.addSpot(north.id, 'left')
  const right = await garden.addSpot(north.id, 'right')
  const far = await garden.addSpot(south.id, 'far')
  if (left === null || right === null || far === null) throw new Error('no spots')

  const channels = [channel('e1', 'ph.emf'), channel('t1', 'temp.soil'), channel('b1', 'bat')]
  await garden.hear([{ id: 'row1', at: 0, channels }], 9)
  await garden.hear([{ id: 'row2', at: 0, channels: [channel('m1', 'moist.raw')] }], 9)
  const calibration = await garden.addCalibration({
    kind: 'moisture',
    probe: 'row2',
    channel: 'm1',
    at: 0,
    dryRaw: 2900,
    wetRaw: 1200,
    note: '',
  })
  // row1: left until 10:30, then in the other bed until the next day at 06:00, then right.
  await garden.placeProbe('row1', left.id, at(2))
  await garden.placeProbe('row1', far.id, at(10.5))
  await garden.placeProbe('row1', right.id, at(30))
  await garden.placeProbe('row2', left.id, at(5.25))

  const sent = Array.from({ length: 48 * 4 }, (_, seq) => ({
    seq,
    at: MIDNIGHT + seq * 15 * MINUTE,
  }))
  await readings.append(
    batchOf({
      readings: sent.flatMap((one) => [
        sampleReading({ ...one, values: { e1: one.seq, t1: 18, b1: 3.7 } }),
        sampleReading({ ...one, probe: 'row2', values: { m1: one.seq } }),
      ]),
    }),
  )
  await readings.settle()

  const raw = await loadFeeds(stores, north, at(1), at(40), 'raw')
  expect(raw).toMatchObject({
    bed: north,
    spots: [left, right],
    from: at(1),
    to: at(40),
    step: 'raw',
  })
  expect(raw.feeds.map(({ spot, probe, from, to }) => [spot.name, probe, from, to])).toEqual([
    ['left', 'row1', at(2), at(10.5)],
    ['left', 'row2', at(5.25), at(40)],
    ['right', 'row1', at(30), at(40)],
  ])
  expect(raw.feeds.map((feed) => feed.channels.map((c) => c.channel.name))).toEqual([
    ['b1', 'e1', 't1'],
    ['m1'],
    ['b1', 'e1', 't1'],
  ])
  expect(raw.feeds.map((feed) => feed.calibrations)).toEqual([[], [calibration], []])
  const ends = raw.feeds.map(({ channels }) => [
    notSupply(channels)?.buckets.mean[0],
    notSupply(channels)?.buckets.mean.at(-1),
  ])
  expect(ends).toEqual([
    [8, 41],
    [21, 159],
    [120, 159],
  ])

  const hourly = await loadFeeds(stores, north, at(0), at(40), 'hour')
  const spans = hourly.feeds.map(({ channels }) => [
    hours({
      from: notSupply(channels)?.buckets.time[0] ?? NaN,
      to: notSupply(channels)?.buckets.time.at(-1) ?? NaN,
    }),
    notSupply(channels)?.buckets.count[0],
  ])
  expect(spans).toEqual([
    [{ from: 2, to: 9 }, 4],
    [{ from: 5, to: 39 }, 4],
    [{ from: 30, to: 39 }, 4],
  ])

  // The first day of row1 mixes two beds, the second two spots: neither counts. row2 has both days.
  const daily = await loadFeeds(stores, north, MIDNIGHT, MIDNIGHT + 2 * DAY, 'day')
  expect(daily.feeds.map(({ channels: [first] }) => first?.buckets.time.length)).toEqual([0, 2, 0])

  const before = await loadFeeds(stores, north, at(-9), at(1), 'hour')
  expect(before.feeds).toEqual([])
})
