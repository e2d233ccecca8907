import { createServer } from 'node:net'
import { serialize } from 'node:v8'
import { Aedes } from 'aedes'
import mqtt from 'mqtt'
import { bedHistory } from '#hub/analysis/aggregate/history.ts'
import { assess, ASSESS_HOURLY_MS, ASSESS_RECENT_MS } from '#hub/analysis/assess.ts'
import { replay } from '#hub/alerts/replay.ts'
import { study, studiedBed } from '#hub/analysis/study.ts'
import { eventsOf } from '#hub/analysis/watch/events-of.ts'
import { foldBeds } from '#hub/analysis/watch/fold-beds.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import { watchHours } from '#hub/analysis/watch/watch-hours.ts'
import { plantDemo } from '#hub/demo/garden.ts'
import { loadHistory } from '#hub/demo/history.ts'
import { openEmbeddedBroker } from '#hub/ingest/embedded-broker.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import type { BedFeeds } from '#hub/model/feed.ts'
import type { Buckets } from '#hub/model/series.ts'
import type { SpotDay } from '#hub/model/spot-day.ts'
import { randomBed } from '#hub/simulator/random-bed.ts'
import { demoScenario } from '#hub/simulator/demo-scenario.ts'
import { loadFeeds } from '#hub/store/feeds.ts'
import { openStores } from '#hub/store/open.ts'
import { bedInput } from '../score/bed-input.ts'
import { freePort } from '../support/ports.ts'
import { tempDir } from '../support/temp-dir.ts'
import { watched } from '../support/watched.ts'

/*
 * Speed as ratios measured in one run: the machine's own pace cancels. Run by hand with `npm run bench`;
 * nothing here is a test, and nothing in the tests asserts a time.
 */

const MESSAGES = 30_000
const WINDOW = 500
const ROUNDS = 3

/** Publishes `MESSAGES` four-value readings at QoS 1 and resolves to messages confirmed per second. */
async function publishAll(url: string, boot: number): Promise<number> {
  const client = await mqtt.connectAsync(url, { clientId: 'bench1', protocolVersion: 4 })
  let sent = 0
  let confirmed = 0
  const begun = performance.now()
  await new Promise<void>((resolve, reject) => {
    const more = (): void => {
      while (sent < MESSAGES && sent - confirmed < WINDOW) {
        const n = sent++
        const body = `{"b":${boot},"n":${n},"u":${n},"v":{"phmv":${(n % 400) / 8},"m1":${1500 + (n % 700)},"st":${15 + (n % 40) / 8},"bat":3.9}}`
        client.publish('lm1/bench1/up/r', body, { qos: 1 }, (error) => {
          if (error) return reject(error)
          confirmed += 1
          if (confirmed === MESSAGES) resolve()
          else more()
        })
      }
    }
    more()
  })
  const rate = MESSAGES / ((performance.now() - begun) / 1000)
  await client.endAsync()
  return rate
}

/** A broker that does nothing with what it gets. */
async function bareBroker(): Promise<{ url: string; stop: () => Promise<void> }> {
  const port = await freePort()
  const aedes = await Aedes.createBroker()
  const server = createServer(aedes.handle)
  await new Promise<void>((resolve) => server.listen(port, '127.0.0.1', resolve))
  return {
    url: `mqtt://127.0.0.1:${port}`,
    stop: async () => {
      await new Promise<void>((resolve) => aedes.close(resolve))
      server.close()
    },
  }
}

const log = { warn: () => undefined, info: () => undefined }
const middle = (values: readonly number[]): number =>
  values.toSorted((a, b) => a - b)[values.length >> 1]!
const row = (what: string, value: string): void => console.log(`${what.padEnd(64)} ${value}`)

async function timed(work: () => unknown, times: number): Promise<number> {
  const all: number[] = []
  for (let i = 0; i < times; i++) {
    const begun = performance.now()
    await work()
    all.push(performance.now() - begun)
  }
  return middle(all)
}

using dir = tempDir()
const stores = await openStores(dir.path)
const ingest = createIngest({ ...stores, clock: Date.now, log })

console.log(
  `Node ${process.versions.node}, ${process.platform} ${process.arch}; ratios of one run\n`,
)

const bare = await bareBroker()
const hubPort = await freePort()
const front = await openEmbeddedBroker({
  host: '127.0.0.1',
  port: hubPort,
  ingest,
  clock: Date.now,
  log,
})
const idle: number[] = []
const stored: number[] = []
const settled: number[] = []
for (let round = 1; round <= ROUNDS; round++) {
  idle.push(await publishAll(bare.url, round))
  const begun = performance.now()
  stored.push(await publishAll(front.address, round))
  await stores.readings.settle()
  settled.push(MESSAGES / ((performance.now() - begun) / 1000))
}
await front.stop()
await bare.stop()
row(
  'confirmed readings, hub (checked, on disk) : bare broker',
  (middle(stored) / middle(idle)).toFixed(2),
)
row(
  'the same until settled and rolled up : bare broker',
  (middle(settled) / middle(idle)).toFixed(2),
)

const now = Date.now()
const scenario = demoScenario({ seed: 1, now })
await plantDemo(stores.garden, scenario, now)
await loadHistory({ ingest: (batch) => ingest.ingest(batch), scenario, now })
await stores.readings.settle()
const [bed] = await stores.garden.beds()
const view = (days: number, step: 'raw' | 'hour' | 'day') => async (): Promise<void> => {
  bedHistory(await loadFeeds(stores, bed!, now - days * DAY, now, step), 'ph', { points: 600 })
}
const day = await timed(view(1, 'raw'), 7)
const season = await timed(view(214, 'hour'), 7)
const all = await timed(view(548, 'day'), 7)
row('season of one bed (hours) : one day of it (raw readings)', (season / day).toFixed(1))
row('eighteen months of one bed (days) : one day of it', (all / day).toFixed(1))

const hourly = await loadFeeds(stores, bed!, now - ASSESS_HOURLY_MS, now + MINUTE, 'hour')
const recent = await loadFeeds(stores, bed!, now - ASSESS_RECENT_MS, now + MINUTE, 'raw')
const journal = await stores.garden.journal({ bedId: bed!.id })
const watch = watched(bed!, hourly, journal, now)
const judge = await timed(() => assess(bed!, { hourly, recent }, watch, null, journal, now), 15)
row('assess one bed of three spots : one day view', (judge / day).toFixed(1))

/** Five years of a bed with four spots and a probe in each that reads every quarter of an hour. */
const years = bedInput(randomBed(7, { days: 5 * 365, spots: 4, withEvents: true }))
const hours = watchHours(years.feeds)
const start = hours[0]!.hour
const end = start + 5 * 365 * DAY
const days: SpotDay[] = []
let folding = { ...years, state: startWatch(years.feeds.bed, start), hours }
const fold = await timed(() => {
  days.length = 0
  folding = { ...years, state: startWatch(years.feeds.bed, start), hours }
  foldBeds([folding], end, { onHour: (_, __, complete) => days.push(...complete) })
}, 3)
const part = (from: number, step: 'hour' | 'raw'): BedFeeds => ({
  ...years.feeds,
  from,
  to: end + MINUTE,
  step,
  feeds: years.feeds.feeds.map((feed) => ({
    ...feed,
    to: end + MINUTE,
    channels: feed.channels.map(({ channel, buckets }) => ({
      channel,
      buckets: sliced(buckets, from, step),
    })),
  })),
})
const windows = {
  hourly: part(end - ASSESS_HOURLY_MS, 'hour'),
  recent: part(end - ASSESS_RECENT_MS, 'raw'),
}
const slow = study(
  studiedBed(years.feeds.bed, days, years.context.journal),
  [],
  {
    events: eventsOf(folding.state),
    visits: new Map(),
    band: { low: 6, high: 7 },
    yearFrom: end - 200 * DAY,
  },
  end,
)
const assessYears = await timed(
  () => assess(years.feeds.bed, windows, folding, slow, years.context.journal, end),
  15,
)
const studyYears = await timed(
  () =>
    study(
      studiedBed(years.feeds.bed, days, years.context.journal),
      [],
      { events: [], visits: new Map(), band: { low: 6, high: 7 }, yearFrom: end - 200 * DAY },
      end,
    ),
  3,
)
const oneYear = hours.filter(({ hour }) => hour < start + 365 * DAY)
const again = await timed(
  () =>
    replay(
      [
        {
          folding: { ...years, state: startWatch(years.feeds.bed, start), hours: oneYear },
          spots: years.feeds.spots,
        },
      ],
      start,
      start + 365 * DAY,
    ),
  3,
)
row('assess four spots after five years : one day view', (assessYears / day).toFixed(1))
row('slow questions of five years (study) : one day view', (studyYears / day).toFixed(1))
row('watch over five years, hours a millisecond', ((hours.length * 4) / fold).toFixed(0))
row('replay of a bed-year with alarms : watch over it', (again / (fold / 5)).toFixed(1))
row(
  'for the record, ms on this machine: one day view, assess, study, replay',
  [day, assessYears, studyYears, again].map((ms) => ms.toFixed(1)).join(', '),
)
const bytes = (state: unknown): number => serialize(state).byteLength
const early = { ...years, state: startWatch(years.feeds.bed, start), hours: oneYear }
foldBeds([early], start + 365 * DAY)
row(
  'what the watch remembers after five years : after one',
  (bytes(folding.state) / bytes(early.state)).toFixed(2),
)

ingest.stop()
await stores.close()

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
