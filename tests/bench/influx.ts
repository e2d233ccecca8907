import { spawn, type ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { join } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import { openInfluxClient } from '#hub/store/influx/influx-client.ts'
import { openDatabase, rowOf, rowsOf } from '#hub/store/sqlite/open-database.ts'
import { MINUTE } from '#hub/model/clock.ts'
import { openInflux, targetOn } from '../support/influx-store.ts'
import { batchOf, sampleReading } from '../support/sample-readings.ts'
import { startInfluxd } from '../support/services/services.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { timed } from './kit.ts'
import type { BenchRow } from './row.ts'

/*
 * Readings on their way from the folder of a hub to an InfluxDB on the same machine, while either side is killed
 * again and again; and what InfluxDB takes to answer.
 */

const PROBES = 1000
const READINGS = 400
const CHANNELS = ['phmv', 'm', 'st', 'bat']
const KILLS = 3
const VALUES = PROBES * READINGS * CHANNELS.length

export async function rows(): Promise<readonly BenchRow[]> {
  using folder = tempDir()
  await using influxd = await startInfluxd()
  const target = targetOn(influxd)
  const client = openInfluxClient(target)
  /** What InfluxDB holds, counted by itself: readings, and what their numbers add up to. */
  const held = async (): Promise<{ readonly n: number; readonly sum: number }> => {
    const [row] = await client
      .query('SELECT count("_seq") AS "n", sum("_seq") AS "sum" FROM "reading"')
      .catch(() => [])
    return { n: Number(row?.['n'] ?? 0), sum: Number(row?.['sum'] ?? 0) }
  }

  // Once, so that folder and database know each other; then everything piles up.
  await (await openInflux(folder.path, target)).close()
  await influxd.stop()
  const away = await openInflux(folder.path, target)
  const start = Date.UTC(2026, 0, 1)
  for (let seq = 0; seq < READINGS; seq++) {
    await away.append(
      batchOf({
        readings: Array.from({ length: PROBES }, (_, p) =>
          sampleReading({
            probe: `probe${p}`,
            seq,
            at: start + seq * 10 * MINUTE + p,
            values: Object.fromEntries(
              CHANNELS.map((c, i) => [c, 300 + i * 50 + ((seq * 7 + p) % 97) / 8]),
            ),
          }),
        ),
      }),
    )
  }
  await away.settle()
  const queued = (await away.forwarding())!.waiting
  await away.close()

  // How much waits is read off the queue: to count what is there would keep InfluxDB from taking more. Rows leave it
  // oldest first, so that the oldest tells; to add up all of them each time would read the whole of it.
  const queue = openDatabase(join(folder.path, 'readings.db'), { readOnly: true })
  const before = new Map<number, number>()
  let sum = 0
  for (const { i, n } of rowsOf<{ i: number; n: number }>(
    queue.prepare('SELECT i, n FROM undelivered ORDER BY i'),
  )) {
    before.set(i, sum)
    sum += n
  }
  const oldest = queue.prepare('SELECT min(i) AS i FROM undelivered')
  const gone = (): number => {
    const { i } = rowOf<{ i: number | null }>(oldest)!
    const n = i === null ? queued : before.get(i)
    if (n === undefined) throw new Error(`row ${i} was not in the queue`)
    return n
  }
  const reached = (n: number): Promise<unknown> =>
    until(
      `${n} are there`,
      async () => {
        await sleep(100)
        return gone() >= n
      },
      180_000,
    )

  let hub: ChildProcess | undefined
  const startHub = (): void => {
    hub = spawn(
      process.execPath,
      [
        'tests/support/appending-store.ts',
        join(folder.path, 'readings.db'),
        target.url,
        target.database,
        '0',
        '0',
      ],
      { stdio: ['ignore', 'ignore', 'inherit'] },
    )
  }
  const killHub = async (): Promise<void> => {
    hub!.kill('SIGKILL')
    await once(hub!, 'exit')
  }
  try {
    await influxd.start()
    const begun = performance.now()
    startHub()
    // Six times on the way, in turn one side and the other.
    for (let kill = 1; kill <= 2 * KILLS; kill++) {
      const goal = (PROBES * READINGS * kill) / (2 * KILLS + 1)
      await reached(goal)
      if (kill % 2 === 1) {
        await killHub()
        startHub()
      } else {
        await influxd.kill()
        await influxd.start()
      }
    }
    const all = PROBES * READINGS
    await reached(all)
    const seconds = (performance.now() - begun) / 1000
    await killHub()
    hub = undefined

    const after = await openInflux(folder.path, target)
    try {
      await until('nothing waits', async () => (await after.forwarding())!.waiting === 0, 60_000)
      const { n, sum } = await held()
      const wanted = (PROBES * (READINGS - 1) * READINGS) / 2
      if (n !== all || sum !== wanted || queued !== all) {
        throw new Error(
          `${all} readings were queued (${queued}) and ${n} are there (sum ${sum}, not ${wanted})`,
        )
      }
      const query = (step: 'raw' | 'hour' | 'day', from: number) =>
        CHANNELS.map((channel) => ({
          probe: 'probe7',
          channel,
          from: start + from,
          to: start + READINGS * 10 * MINUTE,
          step,
        }))
      // After a kill it may first read back what is there.
      await until(
        'it answers again',
        () =>
          after.buckets(query('raw', 0)).then(
            () => true,
            (error: unknown) => {
              if ((error as { retry?: boolean }).retry === true) return false
              throw error
            },
          ),
        300_000,
      )
      const dayMs = await timed(
        () => after.buckets(query('raw', (READINGS - 144) * 10 * MINUTE)),
        11,
      )
      const hoursMs = await timed(() => after.buckets(query('hour', 0)), 11)
      return [
        {
          what: 'to InfluxDB, either side killed three times',
          value: VALUES / seconds,
          unit: 'values/s',
          better: 'more',
          target: 50_000,
          how:
            `${VALUES} values of ${PROBES} probes from the queue to InfluxDB 1.6 on this machine, hub and InfluxDB each ` +
            `killed (SIGKILL) ${KILLS} times on the way and started again, all of that counted; every reading there once`,
          missed: {
            why: 'Hub and InfluxDB share the processor with what else runs here, and starting again after a kill is counted.',
            next: 'Fields that name a reading packed into one: a third less work for InfluxDB.',
          },
        },
        {
          what: 'a day of single readings out of InfluxDB',
          value: dayMs,
          unit: 'ms',
          better: 'less',
          target: null,
          how: `144 readings of four channels of one of ${PROBES} probes; middle of 11`,
        },
        {
          what: 'hours out of InfluxDB',
          value: hoursMs,
          unit: 'ms',
          better: 'less',
          target: null,
          how: `${Math.ceil(READINGS / 6)} hours of four channels of one of ${PROBES} probes; middle of 11`,
        },
      ]
    } finally {
      await after.close()
    }
  } finally {
    if (hub !== undefined) await killHub()
    queue.close()
    await client.close()
  }
}
