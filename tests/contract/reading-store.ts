import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { HubError } from '#hub/errors.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { Reading } from '#hub/model/reading.ts'
import type { Buckets, Step } from '#hub/model/series.ts'
import type { ReadingStore, Settled } from '#hub/store/reading-store.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const MIDNIGHT = Date.UTC(2025, 5, 15)
const ALWAYS = { from: -8.64e15, to: 8.64e15 }

const columns = (b: Buckets) => ({
  time: [...b.time],
  count: [...b.count],
  min: [...b.min],
  mean: [...b.mean],
  max: [...b.max],
  median: [...b.median],
})

async function read(store: ReadingStore, probe: string, channel: string, step: Step) {
  const [buckets] = await store.buckets([{ probe, channel, ...ALWAYS, step }])
  if (buckets === undefined) throw new Error('a query was not answered')
  return columns(buckets)
}

/** What every step of every given channel shows, and the counts. */
async function everything(
  store: ReadingStore,
  probes: readonly string[],
  channels: readonly string[],
) {
  const steps: Step[] = ['raw', 'hour', 'day']
  const queries = probes.flatMap((probe) =>
    channels.flatMap((channel) => steps.map((step) => ({ probe, channel, ...ALWAYS, step }))),
  )
  return {
    buckets: (await store.buckets(queries)).map(columns),
    latest: await store.latest(),
    counts: await store.counts(),
  }
}

/** Fails when nothing came for so long, ms; far more than a store at rest needs, on the busiest machine. */
function within<T>(ms: number, promise: Promise<T>): Promise<T> {
  const { promise: late, reject } = Promise.withResolvers<never>()
  const timer = setTimeout(() => reject(new Error(`nothing settled within ${ms} ms`)), ms)
  return Promise.race([promise, late]).finally(() => clearTimeout(timer))
}

/** An independent, slow account of one bucket. */
function account(values: readonly number[]) {
  const sorted = values.toSorted((a, b) => a - b)
  const n = sorted.length
  if (n === 0) return { count: 0, min: NaN, mean: NaN, max: NaN, median: NaN }
  const middle = [sorted[Math.floor((n - 1) / 2)] ?? NaN, sorted[Math.ceil((n - 1) / 2)] ?? NaN]
  return {
    count: n,
    min: Math.min(...values),
    mean: values.reduce((a, b) => a + b, 0) / n,
    max: Math.max(...values),
    median: ((middle[0] ?? NaN) + (middle[1] ?? NaN)) / 2,
  }
}

/**
 * What every keeper of readings promises, whatever it is built on.
 *
 * @param open opens the store of a folder that may hold what an earlier one left there.
 */
export function readingStoreContract(
  name: string,
  open: (folder: string) => Promise<ReadingStore>,
  options: {
    /** Of each property that is tried on chance readings. @default 100 */
    readonly tries?: number
  } = {},
): void {
  const tries = options.tries ?? 100
  /** Runs a test on a new store and closes it. */
  const withStore = async (body: (store: ReadingStore, folder: string) => Promise<void>) => {
    using folder = tempDir()
    const store = await open(folder.path)
    try {
      await body(store, folder.path)
    } finally {
      await store.close()
    }
  }
  const keep = async (store: ReadingStore, readings: readonly Reading[]): Promise<void> => {
    await store.append(batchOf({ readings }))
    await store.settle()
  }

  describe(name, () => {
    test('a reading can be read back once it is settled, a failed sensor as missing', () =>
      withStore(async (store) => {
        const at = MIDNIGHT + 5
        await keep(store, [sampleReading({ at, values: { e1: -41.5, t1: NaN, m1: 0 } })])
        expect(await read(store, 'row1', 'e1', 'raw')).toEqual({
          time: [at],
          count: [1],
          min: [-41.5],
          mean: [-41.5],
          max: [-41.5],
          median: [-41.5],
        })
        expect(await read(store, 'row1', 't1', 'raw')).toMatchObject({ count: [0], mean: [NaN] })
        expect(await read(store, 'row1', 'm1', 'raw')).toMatchObject({ count: [1], mean: [0] })
      }))

    test('answers come in the order of the queries; what was never heard of is empty', () =>
      withStore(async (store) => {
        await keep(store, [
          sampleReading({ values: { e1: 1, m1: 2 } }),
          sampleReading({ probe: 'row2', values: { e1: 3 } }),
        ])
        const query = (probe: string, channel: string) => ({
          probe,
          channel,
          ...ALWAYS,
          step: 'raw' as const,
        })
        const answers = await store.buckets([
          query('row2', 'e1'),
          query('row9', 'e1'),
          query('row1', 'm1'),
          query('row1', 'x9'),
          query('row1', 'e1'),
        ])
        expect(answers.map((b) => [...b.mean])).toEqual([[3], [], [2], [], [1]])
        expect(await store.buckets([])).toEqual([])
      }))

    test('a range holds its start and not its end', () =>
      withStore(async (store) => {
        const hours = [0, 1, 2, 3].map((seq) => sampleReading({ seq, at: MIDNIGHT + seq * HOUR }))
        await keep(store, hours)
        const range = { from: MIDNIGHT + HOUR, to: MIDNIGHT + 3 * HOUR }
        for (const step of ['raw', 'hour'] as const) {
          const [buckets] = await store.buckets([{ probe: 'row1', channel: 'e1', ...range, step }])
          expect([...(buckets?.time ?? [])]).toEqual([MIDNIGHT + HOUR, MIDNIGHT + 2 * HOUR])
        }
      }))

    test('more rows than fit a page come whole and in order', () =>
      withStore(async (store) => {
        const total = 20_001
        const readings = Array.from({ length: total }, (_, seq) =>
          sampleReading({ seq, at: MIDNIGHT + seq * 1000, values: { e1: seq } }),
        )
        await keep(store, readings)
        const { time, mean } = await read(store, 'row1', 'e1', 'raw')
        expect(time).toEqual(readings.map(({ at }) => at))
        expect(mean).toEqual(readings.map(({ seq }) => seq))
      }))

    test('hours and days are those of UTC and tell count, least, mean, most and median', () =>
      withStore(async (store) => {
        const values = [5, 1, 2, 9, NaN]
        const readings = values.map((e1, seq) =>
          sampleReading({ seq, at: MIDNIGHT - 30 * MINUTE + seq * 15 * MINUTE, values: { e1 } }),
        )
        await keep(store, readings)
        const shown = {
          count: [2, 2],
          min: [1, 2],
          mean: [3, 5.5],
          max: [5, 9],
          median: [3, 5.5],
        }
        expect(await read(store, 'row1', 'e1', 'hour')).toEqual({
          time: [MIDNIGHT - HOUR, MIDNIGHT],
          ...shown,
        })
        expect(await read(store, 'row1', 'e1', 'day')).toEqual({
          time: [MIDNIGHT - DAY, MIDNIGHT],
          ...shown,
        })
      }))

    test('an hour in which every try failed is there, with nothing in it', () =>
      withStore(async (store) => {
        await keep(store, [sampleReading({ at: MIDNIGHT, values: { e1: NaN } })])
        const shown = { count: [0], min: [NaN], mean: [NaN], max: [NaN], median: [NaN] }
        expect(await read(store, 'row1', 'e1', 'hour')).toEqual({ time: [MIDNIGHT], ...shown })
      }))

    test('a late reading changes the hour and the day it belongs to', () =>
      withStore(async (store) => {
        const at = (minutes: number) => MIDNIGHT + minutes * MINUTE
        await keep(store, [
          sampleReading({ seq: 0, at: at(0), values: { e1: 2 } }),
          sampleReading({ seq: 2, at: at(90), values: { e1: 8 } }),
        ])
        await keep(store, [sampleReading({ seq: 1, at: at(20), values: { e1: 5 } })])
        expect(await read(store, 'row1', 'e1', 'hour')).toMatchObject({
          count: [2, 1],
          mean: [3.5, 8],
        })
        expect(await read(store, 'row1', 'e1', 'day')).toMatchObject({ count: [3], median: [5] })
      }))

    test('times before 1970 fall into the hour they belong to', () =>
      withStore(async (store) => {
        await keep(store, [sampleReading({ at: -1 })])
        expect(await read(store, 'row1', 'e1', 'hour')).toMatchObject({ time: [-HOUR] })
        expect(await read(store, 'row1', 'e1', 'day')).toMatchObject({ time: [-DAY] })
      }))

    test('the same reading again changes nothing and is counted', () =>
      withStore(async (store) => {
        const live = sampleReading({
          flags: 2,
          deviceAt: 1_750_000_000_500,
          values: { e1: 4, m1: 7 },
        })
        await keep(store, [live, live])
        const before = await everything(store, ['row1'], ['e1', 'm1'])
        // As it comes again within a batch: later, placed otherwise, without flags and one channel less.
        const { channel, value } = { channel: 'e1', value: 4 }
        await keep(store, [
          {
            ...live,
            at: live.at + 70,
            arrivedAt: live.arrivedAt + HOUR,
            placedBy: 'anchors',
            deviceAt: null,
            flags: 0,
            values: [{ channel, value }],
          },
        ])
        const after = await everything(store, ['row1'], ['e1', 'm1'])
        expect(after.buckets).toEqual(before.buckets)
        expect(after.latest).toEqual(before.latest)
        expect(before.counts).toMatchObject({ readings: 1, duplicates: 1, quarantined: 0 })
        expect(after.counts).toMatchObject({ readings: 1, duplicates: 2, quarantined: 0 })
      }))

    test.for([
      ['another value', { values: { e1: 5 } }, `'e1' 4 before, 5 now`],
      ['a channel more', { values: { e1: 4, t1: 9 } }, `'t1' absent before, 9 now`],
      ['a failure instead of a value', { values: { e1: NaN } }, `'e1' 4 before, NaN now`],
      ['another uptime', { values: { e1: 4 }, uptimeS: 77 }, 'uptime 3 s before, 77 s now'],
    ] as const)('the same name with %s goes to quarantine, once', ([, change, why]) =>
      withStore(async (store) => {
        const first = sampleReading({ values: { e1: 4 } })
        const other = sampleReading(change)
        await keep(store, [first])
        await keep(store, [other, first])
        await keep(store, [{ ...other, arrivedAt: other.arrivedAt + HOUR }])
        expect(await read(store, 'row1', 'e1', 'raw')).toMatchObject({ count: [1], mean: [4] })
        expect(await read(store, 'row1', 't1', 'raw')).toMatchObject({ count: [] })
        const aside = await store.quarantine(10)
        expect(aside).toHaveLength(1)
        expect(aside[0]?.reason).toContain(why)
        expect(aside[0]?.reason).toContain('boot 1 of probe row1')
        expect(new TextDecoder().decode(aside[0]?.payload)).toContain('"seq":0')
        expect(await store.counts()).toMatchObject({ readings: 1, duplicates: 2, quarantined: 1 })
      }),
    )

    test('boots and probes do not share sequence numbers', () =>
      withStore(async (store) => {
        await keep(store, [
          sampleReading({ values: { e1: 1 } }),
          sampleReading({ boot: 4_294_967_295, at: MIDNIGHT, values: { e1: 2 } }),
          sampleReading({ probe: 'row2', values: { e1: 3 } }),
        ])
        expect((await store.counts()).readings).toBe(3)
        expect((await read(store, 'row1', 'e1', 'raw')).mean).toHaveLength(2)
      }))

    test('readings of one probe in the same millisecond are all kept', () =>
      withStore(async (store) => {
        const same = Array.from({ length: 50 }, (_, seq) =>
          sampleReading({ seq, at: MIDNIGHT, values: { [seq % 2 === 0 ? 'e1' : 'm1']: seq } }),
        )
        await keep(store, [sampleReading({ seq: 99, at: MIDNIGHT + 1 }), ...same])
        await keep(store, [sampleReading({ probe: 'row2', at: MIDNIGHT, values: { e1: 1 } })])
        expect((await store.counts()).readings).toBe(52)
        const e1 = await read(store, 'row1', 'e1', 'raw')
        const m1 = await read(store, 'row1', 'm1', 'raw')
        expect(new Set([...e1.time, ...m1.time]).size).toBe(51)
        expect(Math.max(...e1.time, ...m1.time)).toBe(MIDNIGHT + 50)
        expect(await read(store, 'row2', 'e1', 'raw')).toMatchObject({ time: [MIDNIGHT] })
      }))

    test('a reading whose time is only bounded is counted and kept out of trends', () =>
      withStore(async (store) => {
        const bounded = sampleReading({ seq: 1, placedBy: 'bounded', at: MIDNIGHT + 9 })
        await keep(store, [sampleReading({ at: MIDNIGHT }), bounded])
        await keep(store, [bounded])
        for (const step of ['raw', 'hour', 'day'] as const) {
          expect(await read(store, 'row1', 'e1', step)).toMatchObject({ count: [1] })
        }
        expect(await store.latest()).toMatchObject([{ at: MIDNIGHT }])
        expect(await store.counts()).toMatchObject({ readings: 2, duplicates: 1 })
        expect((await store.recall('row1', 1)).ahead).toEqual([0, 1])
      }))

    test('the latest value of a channel is the newest measured, not the last to arrive', () =>
      withStore(async (store) => {
        await keep(store, [sampleReading({ seq: 5, at: MIDNIGHT, values: { e1: 5, m1: 1 } })])
        await keep(store, [
          sampleReading({ seq: 1, at: MIDNIGHT - HOUR, values: { e1: 1 } }),
          sampleReading({ seq: 6, at: MIDNIGHT + HOUR, values: { m1: NaN } }),
          sampleReading({ probe: 'row2', at: MIDNIGHT, values: { e1: 7 } }),
        ])
        const e1 = { probe: 'row1', channel: 'e1', at: MIDNIGHT, value: 5 }
        const m1 = { probe: 'row1', channel: 'm1', at: MIDNIGHT + HOUR, value: NaN }
        const other = { probe: 'row2', channel: 'e1', at: MIDNIGHT, value: 7 }
        expect(await store.latest()).toEqual([e1, m1, other])
        expect(await store.latest('row1')).toEqual([e1, m1])
        expect(await store.latest('row9')).toEqual([])
      }))

    test('a boot is recalled with everything appended before, settled or not', () =>
      withStore(async (store) => {
        expect(await store.recall('row1', 1)).toEqual({
          mark: null,
          ahead: [],
          anchors: [],
          newest: null,
        })
        const anchor = (uptimeS: number, at: number, boot = 1) => ({
          probe: 'row1',
          boot,
          uptimeS,
          at,
        })
        const mark = (top: number, boot = 1) => ({
          probe: 'row1',
          boot,
          top,
          lost: 1,
          missing: 0,
          highest: top,
          lastAt: MIDNIGHT,
        })
        const readings = [0, 1, 2, 4].map((seq) => sampleReading({ seq }))
        await store.append(batchOf({ readings, anchors: [anchor(60, MIDNIGHT)] }))
        expect((await store.recall('row1', 1)).ahead).toEqual([0, 1, 2, 4])
        await store.settle()
        await store.append(
          batchOf({
            readings: [4, 7].map((seq) => sampleReading({ seq })),
            anchors: [
              anchor(3, MIDNIGHT - 57_000),
              anchor(60, MIDNIGHT + 400),
              anchor(9, MIDNIGHT, 2),
            ],
            marks: [mark(1), mark(0, 2)],
          }),
        )
        expect(await store.recall('row1', 1)).toEqual({
          mark: mark(1),
          ahead: [2, 4, 7],
          anchors: [anchor(3, MIDNIGHT - 57_000), anchor(60, MIDNIGHT)],
          // Of reading 7, settled or not.
          newest: { uptimeS: 3 + 7 * 600, at: sampleReading({ seq: 7 }).at },
        })
        await store.append(batchOf({ marks: [mark(7)] }))
        expect(await store.recall('row1', 1)).toMatchObject({ mark: { top: 7 }, ahead: [] })
        expect(await store.recall('row2', 1)).toEqual({
          mark: null,
          ahead: [],
          anchors: [],
          newest: null,
        })
      }))

    test('the newest readings say how each got its time, the bounded ones too', () =>
      withStore(async (store) => {
        const one = (seq: number, placedBy: Reading['placedBy']) =>
          sampleReading({ seq, placedBy, at: MIDNIGHT + seq + 0.25, arrivedAt: MIDNIGHT + 9 })
        await keep(store, [one(1, 'anchors'), one(0, 'arrival'), one(2, 'bounded')])
        const said = (seq: number, placedBy: Reading['placedBy']) => ({
          boot: 1,
          seq,
          at: MIDNIGHT + seq + 0.25,
          arrivedAt: MIDNIGHT + 9,
          placedBy,
          flags: sampleReading({}).flags,
        })
        expect(await store.newest('row1', 2)).toEqual([said(2, 'bounded'), said(1, 'anchors')])
        expect(await store.newest('row1', 9)).toHaveLength(3)
        expect(await store.newest('row9', 9)).toEqual([])
      }))

    test('a reading that comes again with the spread its batch had no room for is a repetition', () =>
      withStore(async (store) => {
        await keep(store, [sampleReading({ values: { e1: 1 } })])
        await keep(store, [sampleReading({ values: { e1: 1, 'e1.s': 0.2 } })])
        expect(await store.counts()).toMatchObject({ readings: 1, duplicates: 1, quarantined: 0 })
        await keep(store, [sampleReading({ values: { e1: 1, m1: 0.2 } })])
        expect(await store.counts()).toMatchObject({ duplicates: 1, quarantined: 1 })
      }))

    test('the newest reading that was placed by its arrival is recalled, whatever came later otherwise', () =>
      withStore(async (store) => {
        const one = (seq: number, placedBy: Reading['placedBy']) =>
          sampleReading({ seq, placedBy, arrivedAt: MIDNIGHT + seq })
        const newest = async () => (await store.recall('row1', 1)).newest
        await keep(store, [one(0, 'arrival'), one(1, 'arrival'), one(2, 'anchors')])
        expect(await newest()).toEqual({ uptimeS: 603, at: MIDNIGHT + 1 })
        await store.append(batchOf({ readings: [one(3, 'bounded'), one(4, 'arrival')] }))
        expect(await newest()).toEqual({ uptimeS: 2403, at: MIDNIGHT + 4 })
      }))

    test('messages in quarantine keep their bytes, newest first', () =>
      withStore(async (store) => {
        const quarantined = [0, 1, 2].map((i) => ({
          arrivedAt: MIDNIGHT + i,
          topic: `lm1/row${i}/up/r`,
          payload: Uint8Array.of(0, 255, i),
          reason: 'expected a number, got "a"',
        }))
        await store.append(batchOf({ quarantined }))
        const rows = await store.quarantine(2)
        expect(rows).toMatchObject([quarantined[2], quarantined[1]])
        expect(rows[0]?.id).toBeGreaterThan(rows[1]?.id ?? Infinity)
        expect((await store.counts()).quarantined).toBe(3)
      }))

    test('what is written off is counted over all boots', () =>
      withStore(async (store) => {
        const mark = (probe: string, boot: number, lost: number) => ({
          probe,
          boot,
          top: 9,
          lost,
          missing: 0,
          highest: 9,
          lastAt: MIDNIGHT,
        })
        await store.append(batchOf({ marks: [mark('row1', 1, 2), mark('row1', 2, 3)] }))
        await store.append(batchOf({ marks: [mark('row1', 2, 4), mark('row2', 1, 1)] }))
        expect((await store.counts()).lost).toBe(7)
      }))

    test('every boot has an account of what came, how it was placed, and what is absent', () =>
      withStore(async (store) => {
        expect(await store.accounts('row1')).toEqual([])
        const late = MIDNIGHT + 3 * MINUTE
        await store.append(
          batchOf({
            readings: [
              sampleReading({ seq: 0, at: MIDNIGHT }),
              sampleReading({ seq: 1, at: MIDNIGHT + MINUTE, placedBy: 'device' }),
              // The same again, and again with other content, twice alike.
              sampleReading({ seq: 0, at: MIDNIGHT, arrivedAt: late }),
              sampleReading({ seq: 1, at: late, values: { e1: 7 } }),
              sampleReading({ seq: 1, at: late, values: { e1: 7 } }),
              sampleReading({
                seq: 4,
                at: MIDNIGHT + 2 * MINUTE,
                arrivedAt: late,
                placedBy: 'anchors',
              }),
              sampleReading({ seq: 5, at: MIDNIGHT, arrivedAt: late, placedBy: 'bounded' }),
              // Believed to its own clock and yet long on its way.
              sampleReading({ seq: 6, at: MIDNIGHT, arrivedAt: late, placedBy: 'device' }),
              sampleReading({ boot: 2, seq: 0, at: late + MINUTE }),
            ],
            marks: [
              { probe: 'row1', boot: 1, top: 2, lost: 1, missing: 1, highest: 6, lastAt: late },
              {
                probe: 'row1',
                boot: 2,
                top: 0,
                lost: 0,
                missing: 0,
                highest: 0,
                lastAt: late + MINUTE,
              },
            ],
          }),
        )
        const second = {
          probe: 'row1',
          boot: 2,
          received: 1,
          late: 0,
          duplicates: 0,
          missing: 0,
          lost: 0,
          conflicting: 0,
          placed: { arrival: 1, device: 0, anchors: 0, bounded: 0, file: 0 },
          firstAt: late + MINUTE,
          lastAt: late + MINUTE,
        }
        const first = {
          probe: 'row1',
          boot: 1,
          received: 5,
          late: 3,
          duplicates: 2,
          missing: 1,
          lost: 1,
          conflicting: 1,
          placed: { arrival: 1, device: 2, anchors: 1, bounded: 1, file: 0 },
          firstAt: MIDNIGHT,
          lastAt: late,
        }
        expect(await store.accounts('row1')).toEqual([second, first])
        // What was written off and turns up after all is received, not lost.
        await store.append(
          batchOf({ readings: [sampleReading({ seq: 2, at: late, placedBy: 'anchors' })] }),
        )
        expect((await store.accounts('row1'))[1]).toMatchObject({
          received: 6,
          lost: 0,
          missing: 1,
        })
        // An account outlives the readings it counts.
        await store.prune(8e15)
        expect((await store.accounts('row1'))[1]).toMatchObject({ received: 6, duplicates: 2 })
        expect(await store.accounts('row9')).toEqual([])
      }))

    test('readings settle by themselves and listeners hear what became visible', () =>
      withStore(async (store) => {
        const heard: Settled[] = []
        const stop = store.onSettled((settled) => heard.push(settled))
        const next = (): Promise<Settled> =>
          new Promise((resolve) => {
            const off = store.onSettled((settled) => {
              off()
              resolve(settled)
            })
          })
        const first = next()
        await store.append(
          batchOf({
            readings: [
              sampleReading({ at: MIDNIGHT }),
              sampleReading({ probe: 'row2', at: MIDNIGHT + 7 }),
            ],
          }),
        )
        const settled = await within(5000, first)
        expect(settled).toMatchObject({ from: MIDNIGHT, to: MIDNIGHT + 7 })
        expect(settled.probes.toSorted()).toEqual(['row1', 'row2'])
        expect((await store.counts()).readings).toBe(2)
        expect(heard).toEqual([settled])

        stop()
        const second = next()
        await store.append(batchOf({ readings: [sampleReading({ seq: 1 })] }))
        await within(5000, second)
        expect(heard).toHaveLength(1)
      }))

    test('pruning takes readings older than a moment out of every step', () =>
      withStore(async (store) => {
        const readings = [0, 1, 2, 3].map((seq) =>
          sampleReading({ seq, at: MIDNIGHT + seq * 20 * MINUTE, values: { e1: seq, m1: NaN } }),
        )
        const old = sampleReading({ probe: 'row2', at: MIDNIGHT - 9 * DAY })
        const bounded = sampleReading({ probe: 'row2', boot: 2, at: 0, placedBy: 'bounded' })
        await store.append(batchOf({ readings: [...readings, old, bounded] }))
        expect(await store.prune(MIDNIGHT + 40 * MINUTE)).toBe(4)
        expect(await read(store, 'row1', 'e1', 'raw')).toMatchObject({ mean: [2, 3] })
        expect(await read(store, 'row1', 'e1', 'hour')).toMatchObject({
          count: [1, 1],
          mean: [2, 3],
        })
        expect(await read(store, 'row1', 'e1', 'day')).toMatchObject({ count: [2], mean: [2.5] })
        expect(await read(store, 'row1', 'm1', 'raw')).toMatchObject({ count: [0, 0] })
        for (const step of ['raw', 'hour', 'day'] as const) {
          expect((await read(store, 'row2', 'e1', step)).time).toEqual([])
        }
        expect(await store.latest('row2')).toEqual([])
        expect((await store.counts()).readings).toBe(2)
        expect(await store.prune(MIDNIGHT + 40 * MINUTE)).toBe(0)
      }))

    test('everything is there again after a restart, settled or not', async () => {
      using folder = tempDir()
      const anchors = [{ probe: 'row1', boot: 1, uptimeS: 3, at: MIDNIGHT }]
      const marks = [
        { probe: 'row1', boot: 1, top: 1, lost: 0, missing: 0, highest: 1, lastAt: MIDNIGHT },
      ]
      const first = await open(folder.path)
      await keep(first, [sampleReading({ seq: 0 }), sampleReading({ seq: 1 })])
      const readings = [sampleReading({ seq: 1 }), sampleReading({ seq: 3 })]
      await first.append(batchOf({ readings, anchors, marks }))
      await first.close()

      const again = await open(folder.path)
      try {
        expect(await again.recall('row1', 1)).toEqual({
          mark: marks[0],
          ahead: [3],
          anchors,
          newest: { uptimeS: 3 + 3 * 600, at: sampleReading({ seq: 3 }).at },
        })
        await again.settle()
        expect((await read(again, 'row1', 'e1', 'raw')).time).toHaveLength(3)
        expect(await again.counts()).toMatchObject({ readings: 3, duplicates: 1 })
      } finally {
        await again.close()
      }
    })

    test('a closed store says so instead of hanging, and can be closed twice', async () => {
      using folder = tempDir()
      const store = await open(folder.path)
      const last = store.append(batchOf({ readings: [sampleReading()] }))
      await Promise.all([store.close(), store.close()])
      await expect(last).resolves.toBeUndefined()
      for (const call of [store.append(batchOf({})), store.counts(), store.recall('row1', 1)]) {
        await expect(call).rejects.toThrow(HubError)
      }
    })

    test.for([
      ['no time', sampleReading({ at: NaN })],
      ['a sequence number with a fraction', sampleReading({ seq: 1.5, at: 1 })],
      ['a boot beyond what a number holds', sampleReading({ boot: 2 ** 53 })],
      ['no probe', sampleReading({ probe: '' })],
      [
        'one channel twice',
        {
          ...sampleReading(),
          values: [
            { channel: 'e1', value: 1 },
            { channel: 'e1', value: 2 },
          ],
        },
      ],
    ] as const)('a reading with %s is refused with its whole batch', ([, broken]) =>
      withStore(async (store) => {
        const good = sampleReading({ seq: 8 })
        await expect(store.append(batchOf({ readings: [good, broken] }))).rejects.toThrow(TypeError)
        await store.settle()
        expect((await store.counts()).readings).toBe(0)
        await keep(store, [good])
        expect((await store.counts()).readings).toBe(1)
      }),
    )

    // One store holds all runs, each under probe names of its own: starting a store takes far longer than
    // a run. What other runs left there must not show.
    describe('whatever the readings are', { timeout: 90_000 }, () => {
      const number = fc.oneof(
        fc.integer({ min: -20_000_000, max: 20_000_000 }).map((n) => n / 10_000),
        fc.integer({ min: -5000, max: 70_000 }),
        fc.double({ min: -1e6, max: 1e6, noNaN: true }),
        fc.constant(NaN),
      )
      /** Readings of two probes, each name and each moment of a probe once. */
      const readings = fc
        .uniqueArray(
          fc.record({
            probe: fc.constantFrom('row1', 'row2'),
            boot: fc.integer({ min: 1, max: 2 }),
            seq: fc.integer({ min: 0, max: 60 }),
            // Multiples of 7 min over two days and a half: hours and days with none, one and several.
            slot: fc.integer({ min: 0, max: 500 }),
            placedBy: fc.constantFrom('arrival', 'device', 'anchors', 'bounded'),
            values: fc.dictionary(fc.constantFrom('e1', 'm1', 't1'), number, {
              noNullPrototype: true,
            }),
          }),
          { maxLength: 40, selector: ({ probe, boot, seq }) => `${probe}/${boot}/${seq}` },
        )
        .map((all) => {
          const taken = new Set<string>()
          return all
            .filter(({ probe, slot }) => {
              const key = `${probe}/${slot}`
              return taken.has(key) ? false : taken.add(key)
            })
            .map(({ slot, placedBy, ...some }) =>
              sampleReading({
                ...some,
                placedBy: placedBy as Reading['placedBy'],
                at: MIDNIGHT + slot * 7 * MINUTE,
              }),
            )
        })
      const CHANNELS = ['e1', 'm1', 't1']
      const PROBES = ['row1', 'row2']
      let runs = 0
      /** The same readings under names that no run had before. */
      const renamed = () => {
        const suffix = `n${runs++}`
        return {
          probes: PROBES.map((probe) => probe + suffix),
          rename: (all: readonly Reading[]): Reading[] =>
            all.map((reading) => ({ ...reading, probe: reading.probe + suffix })),
        }
      }
      /** What is shown of two probes, and how often something was kept or repeated since `before`. */
      const shownOf = async (
        store: ReadingStore,
        probes: readonly string[],
        before: { readings: number; duplicates: number; quarantined: number },
      ) => {
        const { buckets, counts } = await everything(store, probes, CHANNELS)
        const latest = await Promise.all(probes.map((probe) => store.latest(probe)))
        return {
          buckets,
          latest: latest.map((of) => of.map(({ channel, at, value }) => ({ channel, at, value }))),
          readings: counts.readings - before.readings,
          duplicates: counts.duplicates - before.duplicates,
          quarantined: counts.quarantined - before.quarantined,
        }
      }
      /** What is shown of readings that came in one batch, each once. */
      const shownPlain = async (store: ReadingStore, all: readonly Reading[]) => {
        const { probes, rename } = renamed()
        const before = await store.counts()
        await keep(store, rename(all))
        return shownOf(store, probes, before)
      }

      test('order, repetition and the cut into batches make no difference', () =>
        withStore(async (store) => {
          const arrivals = readings.chain((all) =>
            fc.record({
              all: fc.constant(all),
              repeated:
                all.length === 0
                  ? fc.constant([])
                  : fc.array(fc.constantFrom(...all), { maxLength: 10 }),
              order: fc.infiniteStream(fc.nat()),
              cut: fc.integer({ min: 1, max: 15 }),
              settleEach: fc.boolean(),
            }),
          )
          await fc.assert(
            fc.asyncProperty(arrivals, async ({ all, repeated, order, cut, settleEach }) => {
              const expected = await shownPlain(store, all)
              expect(expected).toMatchObject({ readings: all.length, duplicates: 0 })

              const { probes, rename } = renamed()
              const mixed = rename([...all, ...repeated])
                .map((reading) => ({ reading, key: order.next().value ?? 0 }))
                .sort((a, b) => a.key - b.key)
                .map(({ reading }) => reading)
              const before = await store.counts()
              for (let i = 0; i < mixed.length; i += cut) {
                await store.append(batchOf({ readings: mixed.slice(i, i + cut) }))
                if (settleEach) await store.settle()
              }
              await store.settle()
              expect(await shownOf(store, probes, before)).toEqual({
                ...expected,
                duplicates: repeated.length,
              })
            }),
            { numRuns: tries, seed: 20_260_401 },
          )
        }))

      test('values come back as sent, and roll-ups agree with a slow account of the rows', () =>
        withStore(async (store) => {
          await fc.assert(
            fc.asyncProperty(readings, async (all) => {
              const { probes, rename } = renamed()
              const named = rename(all)
              await keep(store, named)
              for (const probe of probes) {
                for (const channel of CHANNELS) {
                  const sent = named
                    .filter((r) => r.probe === probe && r.placedBy !== 'bounded')
                    .flatMap(({ at, values }) =>
                      values
                        .filter((v) => v.channel === channel)
                        .map(({ value }) => ({ at, value })),
                    )
                    .sort((a, b) => a.at - b.at)
                  const raw = await read(store, probe, channel, 'raw')
                  expect(raw.time).toEqual(sent.map(({ at }) => at))
                  // Zero has no sign on the disk.
                  expect(raw.mean).toEqual(sent.map(({ value }) => value + 0))

                  for (const [step, width] of [['hour', HOUR] as const, ['day', DAY] as const]) {
                    const groups = Map.groupBy(sent, ({ at }) => Math.floor(at / width) * width)
                    const rolled = await read(store, probe, channel, step)
                    expect(rolled.time).toEqual([...groups.keys()])
                    ;[...groups.values()].forEach((rows, i) => {
                      const known = rows.map(({ value }) => value).filter((v) => !Number.isNaN(v))
                      const slow = account(known)
                      expect(rolled.count[i]).toBe(slow.count)
                      for (const key of ['min', 'mean', 'max', 'median'] as const) {
                        if (slow.count === 0) expect(rolled[key][i]).toBeNaN()
                        else expect(rolled[key][i]).toBeCloseTo(slow[key], 7)
                      }
                    })
                  }
                }
              }
            }),
            { numRuns: tries, seed: 20_260_402 },
          )
        }))

      test('a restart between any two batches loses nothing', async () => {
        using folder = tempDir()
        const gardens = fc.array(fc.record({ all: readings, cut: fc.nat(40) }), {
          minLength: 4,
          maxLength: 4,
        })
        let store = await open(folder.path)
        const restart = async (): Promise<void> => {
          await store.close()
          store = await open(folder.path)
        }
        try {
          await fc.assert(
            fc.asyncProperty(gardens, async (several) => {
              const before = await store.counts()
              const named = several.map(({ all, cut }) => ({ all, cut, ...renamed() }))
              for (const part of [0, 1]) {
                for (const { all, cut, rename } of named) {
                  const some = part === 0 ? all.slice(0, cut) : all.slice(cut)
                  await store.append(batchOf({ readings: rename(some) }))
                }
                await restart()
              }
              const total = named.reduce((sum, { all }) => sum + all.length, 0)
              expect(await store.counts()).toEqual({
                ...before,
                readings: before.readings + total,
              })
              for (const { all, probes } of named) {
                const { buckets, latest } = await shownPlain(store, all)
                expect(await shownOf(store, probes, await store.counts())).toMatchObject({
                  buckets,
                  latest,
                })
              }
            }),
            { numRuns: 8, seed: 20_260_403 },
          )
        } finally {
          await store.close()
        }
      })
    })
  })
}
