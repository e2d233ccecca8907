import { join } from 'node:path'
import { openInfluxClient, type InfluxTarget } from '#hub/store/influx/influx-client.ts'
import { openInfluxReadingStore } from '#hub/store/influx/open-influx-reading-store.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { until } from './until.ts'

const fail = (error: Error): never => {
  throw error
}

/** A database of an InfluxDB on this machine, as whoever comes without a password. */
export const targetOn = (
  at: { readonly host: string; readonly port: number },
  database = 'garden',
): InfluxTarget => ({
  url: `http://${at.host}:${at.port}`,
  database,
  retention: null,
  auth: { kind: 'none' },
})

/** The store of a folder; what it says of an InfluxDB that is away goes to `away`, everything else fails. */
export const openInflux = (
  folder: string,
  target: InfluxTarget,
  away: string[] = [],
): Promise<ReadingStore> =>
  openInfluxReadingStore(join(folder, 'readings.db'), target, {
    onDeath: fail,
    onTrouble: fail,
    onForwarding: ({ problem }) => {
      if (problem !== null) away.push(problem)
    },
    clock: Date.now,
    timeoutMs: 1500,
  })

/** Resolves once nothing is on its way any more. */
export const delivered = (store: ReadingStore, ms = 30_000): Promise<unknown> =>
  until(
    'everything is delivered',
    async () => {
      const { state, waiting } = (await store.forwarding())!
      return state === 'up' && waiting === 0
    },
    ms,
  )

/** How many points InfluxDB itself holds of a probe, and what they add up to. */
export async function heldThere(
  target: InfluxTarget,
  probe = 'row1',
): Promise<{ readonly n: number; readonly sum: number }> {
  const client = openInfluxClient(target)
  try {
    const [row] = await client.query(
      'SELECT count("e1") AS "n", sum("e1") AS "sum" FROM "reading" WHERE "probe" = $probe',
      { probe },
    )
    return { n: Number(row?.['n'] ?? 0), sum: Number(row?.['sum'] ?? 0) }
  } finally {
    await client.close()
  }
}
