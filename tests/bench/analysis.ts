import { serialize } from 'node:v8'
import { replay } from '#hub/alerts/replay.ts'
import { bedHistory } from '#hub/analysis/aggregate/history.ts'
import { assess, ASSESS_HOURLY_MS, ASSESS_RECENT_MS } from '#hub/analysis/assess.ts'
import { study, studiedBed } from '#hub/analysis/study.ts'
import { eventsOf } from '#hub/analysis/watch/events-of.ts'
import { foldBeds } from '#hub/analysis/watch/fold-beds.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import { watchHours } from '#hub/analysis/watch/watch-hours.ts'
import { plantDemo } from '#hub/demo/garden.ts'
import { loadHistory } from '#hub/demo/history.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import type { BedFeeds } from '#hub/model/feed.ts'
import type { Buckets } from '#hub/model/series.ts'
import type { SpotDay } from '#hub/model/spot-day.ts'
import { demoScenario } from '#hub/simulator/demo-scenario.ts'
import { randomBed } from '#hub/simulator/random-bed.ts'
import { loadFeeds } from '#hub/store/feeds.ts'
import { openStores } from '#hub/store/open.ts'
import { bedInput } from '../score/bed-input.ts'
import { tempDir } from '../support/temp-dir.ts'
import { quiet, timed } from './kit.ts'
import type { BenchRow } from './row.ts'

/** Hours from `from` on; as raw rows they stand for single readings. */
function sliced(buckets: Buckets, from: number, step: 'hour' | 'raw'): Buckets {
  const first = buckets.time.findIndex((t) => t >= from)
  const cut = (column: Float64Array): Float64Array =>
    column.slice(first < 0 ? column.length : first)
  return {
    step,
    time: cut(buckets.time),
    count: cut(buckets.count),
    min: cut(buckets.min),
    mean: cut(buckets.mean),
    max: cut(buckets.max),
    median: cut(buckets.median),
  }
}

/** A bed of four spots with a probe in each that reads every quarter of an hour, over some years. */
async function longBed(years: number) {
  const bed = bedInput(randomBed(7, { days: years * 365, spots: 4, withEvents: true }))
  const hours = watchHours(bed.feeds)
  const start = hours[0]!.hour
  const end = start + years * 365 * DAY
  const days: SpotDay[] = []
  const fresh = (): typeof folding => ({ ...bed, state: startWatch(bed.feeds.bed, start), hours })
  let folding = { ...bed, state: startWatch(bed.feeds.bed, start), hours }
  const fold = await timed(() => {
    days.length = 0
    folding = fresh()
    foldBeds([folding], end, { onHour: (_, __, complete) => days.push(...complete) })
  }, 3)
  const part = (from: number, step: 'hour' | 'raw'): BedFeeds => ({
    ...bed.feeds,
    from,
    to: end + MINUTE,
    step,
    feeds: bed.feeds.feeds.map((feed) => ({
      ...feed,
      to: end + MINUTE,
      channels: feed.channels.map(({ channel, buckets }) => ({
        channel,
        buckets: sliced(buckets, from, step),
      })),
    })),
  })
  const { journal } = bed.context
  const ask = () =>
    study(
      studiedBed(bed.feeds.bed, days, journal),
      [],
      {
        events: eventsOf(folding.state),
        visits: new Map(),
        band: { low: 6, high: 7 },
        yearFrom: end - 200 * DAY,
      },
      end,
    )
  const windows = {
    hourly: part(end - ASSESS_HOURLY_MS, 'hour'),
    recent: part(end - ASSESS_RECENT_MS, 'raw'),
  }
  const slow = ask()
  return {
    hours: hours.length,
    fold,
    study: await timed(ask, 3),
    assess: await timed(() => assess(bed.feeds.bed, windows, folding, slow, journal, end), 15),
    replay: await timed(
      () => replay([{ folding: fresh(), spots: bed.feeds.spots }], start, end),
      years > 1 ? 1 : 3,
    ),
    remembered: serialize(folding.state).byteLength,
  }
}

/** Milliseconds of views of a bed of the demo, from the store to what the page draws. */
async function demoViews() {
  using dir = tempDir()
  const stores = await openStores(dir.path)
  const ingest = createIngest({ ...stores, clock: Date.now, log: quiet })
  try {
    const now = Date.now()
    const scenario = demoScenario({ seed: 1, now })
    await plantDemo(stores.garden, scenario, now)
    await loadHistory({ ingest: (batch) => ingest.ingest(batch), scenario, now })
    await stores.readings.settle()
    const [bed] = await stores.garden.beds()
    const view = (days: number, step: 'raw' | 'hour' | 'day') => async (): Promise<void> => {
      bedHistory(await loadFeeds(stores, bed!, now - days * DAY, now, step), 'ph', { points: 600 })
    }
    return {
      day: await timed(view(1, 'raw'), 15),
      season: await timed(view(214, 'hour'), 7),
      all: await timed(view(548, 'day'), 7),
    }
  } finally {
    ingest.stop()
    await stores.close()
  }
}

export async function rows(): Promise<readonly BenchRow[]> {
  const views = await demoViews()
  const short = await longBed(0.5)
  const long = await longBed(5)
  const record = { unit: 'ms', better: 'less', target: null } as const
  const ratio = { unit: '', better: 'less' } as const
  const bed = 'A simulated bed of four spots, a reading of each every quarter of an hour'
  return [
    {
      what: 'One day of a bed (raw readings), calibrated and brought together',
      value: views.day,
      ...record,
      how: 'A bed of three spots of the demo, from the store to what the page draws; middle of 15.',
    },
    {
      what: 'A season of a bed (hours) : one day of it',
      value: views.season / views.day,
      ...ratio,
      target: 40,
      stretch: 20,
      how: '214 days by the hour are 5,136 rows a channel, a day of raw readings about 96.',
      missed: {
        why: 'Hours are not kept: they are made of the readings of 214 days each time they are read.',
        next: 'Keep the hours of closed days packed beside their blocks, as thinned days do already (hub/store/sqlite/hour-columns.ts).',
      },
    },
    {
      what: 'Eighteen months of a bed (days) : one day of it',
      value: views.all / views.day,
      ...ratio,
      target: 10,
      stretch: 5,
      how: '548 daily rows a channel against about 96 raw ones.',
      missed: {
        why: 'Days are brought together on a grid by the hour.',
        next: 'Profile bedHistory with daily rows.',
      },
    },
    {
      what: 'Assessing a bed of four spots after five years',
      value: long.assess,
      ...record,
      how: `${bed}; assess() with the windows the hub hands it; middle of 15.`,
    },
    {
      what: 'Assessing it after five years : after half a year',
      value: long.assess / short.assess,
      ...ratio,
      target: 2,
      stretch: 1.2,
      how: 'Ten times the past behind it, the same windows; the growth with 10 times the data.',
      missed: {
        why: 'Something in assess() goes through all that the watch remembers.',
        next: 'Profile it and keep sums with the state.',
      },
    },
    {
      what: 'Replay with alarms, ten times the past : ten times the time',
      value: long.replay / (10 * short.replay),
      ...ratio,
      target: 1.5,
      stretch: 1.1,
      how: 'Five years against half a year, divided by ten: 1 is time that grows as the data do.',
      missed: {
        why: 'A step of the replay looks at more of the past the longer it is.',
        next: 'Find the step by a profile of five years.',
      },
    },
    {
      what: 'Replay of a bed-year with alarms',
      value: long.replay / 5,
      ...record,
      how: `${bed}; a fifth of the replay of five years.`,
    },
    {
      what: 'Watch over the past, spot-hours a millisecond',
      value: (long.hours * 4) / long.fold,
      unit: '1/ms',
      better: 'more',
      target: null,
      how: 'Five years folded hour by hour; middle of 3.',
    },
    {
      what: 'Slow questions of a bed after five years',
      value: long.study,
      ...record,
      how: 'study() over five years of day rows, asked once a day; middle of 3.',
    },
    {
      what: 'What the watch remembers after five years : after half a year',
      value: long.remembered / short.remembered,
      ...ratio,
      target: 4,
      stretch: 2,
      how: 'Bytes of its state as it is kept.',
      missed: {
        why: 'Changes of level are remembered for ever.',
        next: 'Fold those of closed years into a table of their own.',
      },
    },
  ]
}
