import { fork } from 'node:child_process'
import { once } from 'node:events'
import { expect, onTestFinished, test } from 'vitest'
import { openStores } from '#hub/store/open.ts'
import { tempDir } from '../support/temp-dir.ts'
import { repeats } from './support/repeats.ts'
import type { SoakDay } from './support/soak-host.ts'
import { trendOf } from './support/trend.ts'

/*
 * Long running: simulated days through the real ingest, store and evaluation, and memory must not grow. In CI a part of
 * a year; LOAMLINE_TEST_SOAK_DAYS=365 is the whole of it.
 */

const DAYS = repeats('LOAMLINE_TEST_SOAK_DAYS', 30)
const PROBES = 6
const PER_DAY = 144
/** Caches fill, code is compiled: the first third says nothing about the rest. */
const WARM_UP = Math.floor(DAYS / 3)
/** What a year may add for certain, bytes. Day rows of six beds are kept in memory for the slow questions. */
const HEAP_A_YEAR = 24e6
/** The heaps of the threads are collected when they like: a sawtooth of weeks, of which only long runs show the trend. */
const RESIDENT_A_YEAR = 60e6
const RESIDENT_TREND_DAYS = 200
const RESIDENT_MOST = 400e6

test(
  'soak: simulated days at high speed, memory stays where it is',
  { timeout: 1_800_000 },
  async () => {
    using folder = tempDir()
    const child = fork(
      'tests/faults/support/soak-host.ts',
      [folder.path, String(DAYS), String(PROBES)],
      {
        execArgv: ['--expose-gc'],
        stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
      },
    )
    onTestFinished(() => void child.kill('SIGKILL'))
    const days: SoakDay[] = []
    let said = ''
    child.stderr?.on('data', (chunk: Buffer) => (said += chunk.toString()))
    child.on('message', (day: SoakDay) => days.push(day))
    const [code] = (await once(child, 'exit')) as [number | null]
    expect(code, said).toBe(0)
    expect(days.map(({ day }) => day)).toEqual(Array.from({ length: DAYS }, (_, i) => i + 1))
    expect(days.at(-1)!.readings).toBe(DAYS * PER_DAY * PROBES)
    expect(days.at(-1)!.rounds).toBeGreaterThanOrEqual(DAYS)

    const warm = days.slice(WARM_UP)
    const heap = trendOf(warm.map(({ day, heap: bytes }) => [day, bytes]))
    const resident = trendOf(warm.map(({ day, resident: bytes }) => [day, bytes]))
    const most = Math.max(...warm.map((day) => day.resident))
    const megabytes = (bytes: number): string => (bytes / 1e6).toFixed(1)
    console.log(
      `${DAYS} days, ${days.at(-1)!.readings} readings, ${days.at(-1)!.rounds} looks at beds; heap ` +
        `${megabytes(warm[0]!.heap)} to ${megabytes(warm.at(-1)!.heap)} MB, a year ${megabytes(heap.slope * 365)} ± ` +
        `${megabytes(2 * heap.error * 365)} MB; resident ${megabytes(warm[0]!.resident)} to ` +
        `${megabytes(warm.at(-1)!.resident)} MB, a year ${megabytes(resident.slope * 365)} ± ` +
        `${megabytes(2 * resident.error * 365)} MB`,
    )
    // Growth that is there for certain, not what the doubt leaves possible.
    expect((heap.slope - 2 * heap.error) * 365).toBeLessThan(HEAP_A_YEAR)
    if (DAYS >= RESIDENT_TREND_DAYS)
      expect((resident.slope - 2 * resident.error) * 365).toBeLessThan(RESIDENT_A_YEAR)
    expect(most).toBeLessThan(RESIDENT_MOST)

    const stores = await openStores(folder.path)
    try {
      const all = { from: 0, to: Number.MAX_SAFE_INTEGER }
      for (let i = 0; i < PROBES; i++) {
        const [raw, hours, daily] = await stores.readings.buckets(
          (['raw', 'hour', 'day'] as const).map((step) => ({
            probe: `row${i}`,
            channel: 'st',
            ...all,
            step,
          })),
        )
        const sum = (column: Float64Array): number => column.reduce((a, b) => a + b, 0)
        expect(raw!.time.length).toBe(DAYS * PER_DAY)
        expect([sum(hours!.count), sum(daily!.count)]).toEqual([DAYS * PER_DAY, DAYS * PER_DAY])
      }
    } finally {
      await stores.close()
    }
  },
)
