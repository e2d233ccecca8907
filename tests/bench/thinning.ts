import { DAY, MINUTE, SECOND } from '#hub/model/clock.ts'
import type { Reading } from '#hub/model/reading.ts'
import { openStores } from '#hub/store/open.ts'
import { seededRandom } from '../support/random.ts'
import { tempDir } from '../support/temp-dir.ts'
import type { BenchRow } from './row.ts'

const PROBES = 20
const DAYS = 30
const BATCH = 5000
const EVERY_MS = MINUTE
const START = Date.UTC(2026, 0, 1)
const CHANNELS = ['phmv', 'm1', 'st', 'bat'] as const

/** Readings of every minute with the noise of real sensors. */
function* readings(): Generator<Reading> {
  const random = seededRandom(9)
  for (let n = 0; n < (DAYS * DAY) / EVERY_MS; n++) {
    for (let probe = 0; probe < PROBES; probe++) {
      const at = START + n * EVERY_MS + probe * 900 + Math.floor(random() * 200)
      const noise = random() - 0.5
      const values = [
        Math.round((30 + 10 * Math.sin(n / 3000) + noise) * 10) / 10,
        Math.round(1800 + 300 * Math.sin(n / 9000) + 6 * noise),
        Math.round((15 + 6 * Math.sin(n / 230) + noise / 4) * 16) / 16,
        Math.round((3.9 - n / 1e6 + noise / 200) * 1000) / 1000,
      ]
      yield {
        probe: `fast${probe}`,
        boot: 1,
        seq: n,
        uptimeS: (n * EVERY_MS) / SECOND,
        at,
        placedBy: 'arrival',
        arrivedAt: at,
        deviceAt: null,
        flags: 0,
        values: CHANNELS.map((channel, i) => ({ channel, value: values[i]! })),
      }
    }
  }
}

const quantileOf = (values: readonly number[], p: number): number =>
  values.toSorted((a, b) => a - b)[Math.min(values.length - 1, Math.floor(p * values.length))] ??
  NaN

export async function rows(): Promise<readonly BenchRow[]> {
  using dir = tempDir()
  const stores = await openStores(dir.path)
  const { readings: store } = stores
  const upkeep = store.upkeep!
  try {
    let some: Reading[] = []
    const send = async (): Promise<void> => {
      await store.append({ readings: some, anchors: [], marks: [], quarantined: [] })
      some = []
    }
    for (const reading of readings()) {
      some.push(reading)
      if (some.length >= BATCH) await send()
    }
    await send()
    await store.settle()

    let seq = 0
    /** Milliseconds until each of single readings is confirmed, one after the other, while work goes on. */
    const latencies = async (goOn: () => boolean): Promise<number[]> => {
      const all: number[] = []
      while (goOn()) {
        const at = START + (DAYS + 1) * DAY + seq * SECOND
        const reading: Reading = {
          probe: 'live1',
          boot: 1,
          seq,
          uptimeS: seq,
          at,
          placedBy: 'arrival',
          arrivedAt: at,
          deviceAt: null,
          flags: 0,
          values: [{ channel: 'phmv', value: 20 + (seq % 9) }],
        }
        seq++
        const begun = performance.now()
        await store.append({ readings: [reading], anchors: [], marks: [], quarantined: [] })
        all.push(performance.now() - begun)
        await new Promise((resolve) => setTimeout(resolve, 5))
      }
      return all
    }
    const until = performance.now() + 5000
    const quiet = await latencies(() => performance.now() < until)
    const before = await upkeep.size()
    const would = await upkeep.wouldThin(START + (DAYS - 1) * DAY)
    let over = false
    const begun = performance.now()
    const work = (async () => {
      const thinned = await upkeep.thin(START + (DAYS - 1) * DAY)
      const thinMs = performance.now() - begun
      await upkeep.shrink()
      return { ...thinned, thinMs, allMs: performance.now() - begun }
    })().finally(() => {
      over = true
    })
    const busy = await latencies(() => !over)
    const done = await work
    const after = await upkeep.size()
    const p99 = (values: readonly number[]): number => quantileOf(values, 0.99)
    return [
      {
        what: 'Confirming a reading while old ones become hours and space goes back, p99',
        value: p99(busy),
        unit: 'ms',
        better: 'less',
        target: 50,
        stretch: 25,
        how: `${PROBES} probes with a four-value reading each minute over ${DAYS} days; single readings one after the other, ${busy.length} of them; without such work p99 is ${p99(quiet).toFixed(1)} ms.`,
        missed: {
          why: 'A slice of thinning or of giving back holds the writing thread for longer than meant.',
          next: 'Smaller slices, and a rest after each.',
        },
      },
      {
        what: 'What readings take after : before thinning',
        value: (after.readingBytes + after.hourBytes) / before.readingBytes,
        unit: '',
        better: 'less',
        target: 0.5,
        stretch: 0.2,
        how: `${DAYS - 1} of ${DAYS} days thinned: ${(before.readingBytes / 1e6).toFixed(1)} MB before, ${((after.readingBytes + after.hourBytes) / 1e6).toFixed(1)} MB after, the file ${(before.bytes / 1e6).toFixed(1)} and ${(after.bytes / 1e6).toFixed(1)} MB; the dry run said ${(would.bytes / 1e6).toFixed(1)} MB become ${(would.hourBytes / 1e6).toFixed(1)}.`,
        missed: {
          why: 'Names of readings, daily rows and hours take more than half of what readings take.',
          next: 'See by dbstat what is left in the file.',
        },
      },
      {
        what: 'Readings that become hours in a second',
        value: done.readings / (done.thinMs / 1000),
        unit: '1/s',
        better: 'more',
        target: null,
        how: 'The same run, readings taken meanwhile included.',
      },
    ]
  } finally {
    await stores.close()
  }
}
