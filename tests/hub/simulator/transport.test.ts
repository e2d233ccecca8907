import { describe, expect, test } from 'vitest'
import { createIngest } from '#hub/ingest/ingest.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import { openStores } from '#hub/store/open.ts'
import { randomBed } from '#hub/simulator/random-bed.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import {
  heldBack,
  liveStream,
  messagesOf,
  outOfOrder,
  repeated,
  type Underway,
  withClock,
} from '#hub/simulator/transport.ts'
import { hourBuckets } from '#tests/score/bed-input.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const PROBE = 'bed3a'
const DAYS = 40
const bed = randomBed(2024, { spots: 1, days: DAYS })
// Measured seven minutes into each quarter: seconds of delay never move a reading into another hour.
const sent = liveStream(bed.spots[0]!, PROBE, bed.startMs, 7 * MINUTE)
const random = seededRandom(9)

/** Hour roll-ups of the pH, and how many readings are kept, after this stream went through the intake. */
async function kept(stream: readonly Underway[]) {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  let now = bed.startMs
  const ingest = createIngest({
    readings: stores.readings,
    garden: stores.garden,
    clock: () => now,
    log: { warn: () => {}, info: () => {} },
  })
  const messages = messagesOf(stream)
  for (let first = 0; first < messages.length; first += 200) {
    const some = messages.slice(first, first + 200)
    now = some.at(-1)!.arrivedAt
    await ingest.ingest(
      some.map(({ topic, payload, retain, arrivedAt }) => ({
        topic,
        payload: new TextEncoder().encode(payload),
        retain,
        arrivedAt,
        mayBeDelayed: false,
      })),
    )
  }
  await stores.readings.settle()
  const [hours] = await stores.readings.buckets([
    { probe: PROBE, channel: 'ph', from: bed.startMs, to: bed.startMs + DAYS * DAY, step: 'hour' },
  ])
  const { readings } = await stores.readings.counts()
  await stores.close()
  return { readings, hours: hours! }
}

describe('the same readings, however they travel, give the same hours', async () => {
  const plain = await kept(sent)

  test('as sent: every reading once, every hour with its median', () => {
    expect(plain.readings).toBe(sent.length)
    expect(plain.hours.time.length).toBeGreaterThan(DAYS * 24 * 0.8)
    // The hours the score is counted on are rolled up elsewhere: both ways agree.
    const { time, count, min, median, max } = hourBuckets(bed.spots[0]!.ph, bed.startMs)
    expect({ time, count, min, median, max }).toEqual({
      time: plain.hours.time,
      count: plain.hours.count,
      min: plain.hours.min,
      median: plain.hours.median,
      max: plain.hours.max,
    })
  })

  const faults: Readonly<Record<string, readonly Underway[]>> = {
    'a third comes twice': repeated(sent, random, 1 / 3),
    'all comes twice, out of order': repeated(outOfOrder(sent, random, 50_000), random, 1),
    'a clock that gains 20 s a day': withClock(sent, 20),
    'a clock that falls back to 2021': withClock(sent, -20, {
      at: bed.startMs + 11 * DAY,
      to: Date.UTC(2021, 0, 1),
    }),
    'three outages, then the backlog': heldBack(sent, [
      { from: bed.startMs + 5 * DAY, to: bed.startMs + 5 * DAY + 3 * HOUR },
      { from: bed.startMs + 12.3 * DAY, to: bed.startMs + 15.1 * DAY },
      { from: bed.startMs + 30 * DAY, to: bed.startMs + 31 * DAY },
    ]),
    'the backlog comes twice as well': repeated(
      heldBack(withClock(sent, 15), [{ from: bed.startMs + 20 * DAY, to: bed.startMs + 22 * DAY }]),
      random,
      0.5,
    ),
  }
  test.each(Object.keys(faults))('%s', async (name) => {
    const stream = faults[name]!
    expect(stream).not.toEqual(sent)
    const got = await kept(stream)
    expect(got.readings).toBe(sent.length)
    expect(got.hours).toEqual(plain.hours)
  })
})

test('messages kept back fit into what a probe may send', () => {
  const stream = heldBack(sent, [{ from: bed.startMs + 2 * DAY, to: bed.startMs + 4 * DAY }])
  const batches = messagesOf(stream).filter(({ topic }) => topic.endsWith('/b'))
  expect(batches.length).toBeGreaterThan(5)
  for (const { topic, payload } of batches) {
    expect(topic.length + payload.length).toBeLessThanOrEqual(249)
  }
})
