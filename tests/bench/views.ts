import { DAY, MINUTE } from '#hub/model/clock.ts'
import type { Step } from '#hub/model/series.ts'
import { openStores } from '#hub/store/open.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { tempDir } from '../support/temp-dir.ts'
import { fill, UNTIL } from './fill.ts'
import { timed } from './kit.ts'
import type { BenchRow } from './row.ts'

const YEARS = 5
const SPOTS = 4
const ROUNDS = 25

const view = (store: ReadingStore, days: number, step: Step) => (): Promise<unknown> =>
  store.buckets(
    Array.from({ length: SPOTS }, (_, spot) => ({
      probe: `bench${spot}`,
      channel: 'phmv',
      from: UNTIL - days * DAY,
      to: UNTIL,
      step,
    })),
  )

interface Views {
  readonly years: number
  readonly day: number
}

/** Four probes over five years, one reading each `minutes`. */
async function fourSpots(minutes: number): Promise<Views> {
  using dir = tempDir()
  const stores = await openStores(dir.path)
  try {
    const each = (YEARS * 365 * DAY) / (minutes * MINUTE)
    await fill(stores.readings, {
      probes: SPOTS,
      each,
      everyMs: minutes * MINUTE,
      until: UNTIL,
    })
    return {
      years: await timed(view(stores.readings, YEARS * 365, 'day'), ROUNDS),
      day: await timed(view(stores.readings, 1, 'raw'), ROUNDS),
    }
  } finally {
    await stores.close()
  }
}

/** The newest values of a thousand probes that have sent so many readings each. */
async function lastOfThousand(each: number): Promise<number> {
  using dir = tempDir()
  const stores = await openStores(dir.path)
  try {
    await fill(stores.readings, { probes: 1000, each, everyMs: 15 * MINUTE, until: UNTIL })
    return await timed(() => stores.readings.latest(), ROUNDS)
  } finally {
    await stores.close()
  }
}

export async function rows(): Promise<readonly BenchRow[]> {
  const sparse = await fourSpots(150)
  const dense = await fourSpots(15)
  const few = await lastOfThousand(10)
  const many = await lastOfThousand(100)
  const ratio = { unit: '', better: 'less', target: 2, stretch: 1.2 } as const
  const grows = (what: string, more: number, less: number, how: string): BenchRow => ({
    ...ratio,
    what,
    value: more / less,
    how,
    missed: {
      why: 'The view reads more rows, or rows that lie further apart on the disk, when there is more data.',
      next: 'See which pages it reads (EXPLAIN QUERY PLAN and the size of the tables) and keep what it reads together.',
    },
  })
  return [
    {
      what: 'Five years of four spots, in the store',
      value: dense.years,
      unit: 'ms',
      better: 'less',
      target: 20,
      stretch: 8,
      how: `Daily rows of four series out of ${SPOTS} probes with a four-value reading each quarter of an hour over ${YEARS} years; asked of the port, answer in the caller's thread; middle of ${ROUNDS}.`,
      missed: {
        why: 'Reading the days of four series out of the file takes longer on this machine.',
        next: 'Keep the days of a series in one packed row a year.',
      },
    },
    {
      what: '24 hours of four spots, raw, in the store',
      value: dense.day,
      unit: 'ms',
      better: 'less',
      target: 2,
      stretch: 0.5,
      how: `The last day's readings of four series of the same store; middle of ${ROUNDS}.`,
      missed: {
        why: 'The way to the reading thread and back costs more than the rows.',
        next: 'Measure the way alone (an empty answer), then send columns in one buffer.',
      },
    },
    {
      what: 'Newest value of every channel of 1,000 probes, in the store',
      value: many,
      unit: 'ms',
      better: 'less',
      target: 5,
      stretch: 2,
      how: `4,000 newest values out of 400,000, asked of the port; middle of ${ROUNDS}.`,
      missed: {
        why: '4,000 rows become 4,000 objects that are copied between two threads.',
        next: 'Hand them over as columns in one buffer, names once; or keep the newest values in memory, a settled batch brings the change.',
      },
    },
    grows(
      'Growth of the five-year view with 10 times the readings',
      dense.years,
      sparse.years,
      'The same five years with a reading each 15 minutes against each 150 minutes.',
    ),
    grows(
      'Growth of the 24-hour raw view, by reading, with 10 times the readings',
      dense.day / 10,
      sparse.day,
      'The same; the day itself holds ten times the readings, so the time is divided by ten.',
    ),
    grows(
      'Growth of the newest values of 1,000 probes with 10 times the readings',
      many,
      few,
      '100 readings of each probe against 10.',
    ),
  ]
}
