import { openInfluxClient } from '#hub/store/influx/influx-client.ts'
import type { InfluxTarget } from '#hub/store/influx/influx-client.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { until } from '../../support/until.ts'

/** The database of an InfluxDB on this machine into which the tests' hubs send on. */
export const targetAt = (at: { readonly host: string; readonly port: number }): InfluxTarget => ({
  url: `http://${at.host}:${at.port}`,
  database: 'garden',
  retention: null,
  auth: { kind: 'none' },
})

/** Resolves once nothing is on its way to InfluxDB any more. */
export const sentOn = (store: ReadingStore): Promise<unknown> =>
  until(
    'everything is sent on',
    async () => {
      const { state, waiting } = (await store.forwarding())!
      return state === 'up' && waiting === 0
    },
    40_000,
  )

/** How many values of `m1` InfluxDB itself holds of a probe, and what they add up to. */
export async function heldThere(
  target: InfluxTarget,
  probe: string,
): Promise<{ readonly n: number; readonly sum: number }> {
  const client = openInfluxClient(target)
  try {
    const [row] = await client.query(
      'SELECT count("m1") AS "n", sum("m1") AS "sum" FROM "reading" WHERE "probe" = $probe',
      { probe },
    )
    return { n: Number(row?.['n'] ?? 0), sum: Number(row?.['sum'] ?? 0) }
  } finally {
    await client.close()
  }
}
