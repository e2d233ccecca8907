import mqtt from 'mqtt'
import { until } from './until.ts'

/** Probes that publish on and on at QoS 1, over every loss of the link, and know what was confirmed. */
export interface Load {
  readonly probes: readonly string[]
  /** How many readings each probe has had confirmed by a PUBACK, by number. */
  acknowledged(probe: string): ReadonlySet<number>
  /** Over all probes. */
  acknowledgedCount(): number
  /** Sent and not confirmed yet, over all probes. */
  inFlight(): number
  /** Takes no new readings, and waits until everything sent is confirmed. */
  finish(): Promise<void>
  close(): Promise<void>
}

/** Reading number `n` of any probe. Halves and quarters are exact in binary. */
export const loadValues = (n: number): { readonly m1: number; readonly st: number } => ({
  m1: n,
  st: n / 4,
})

const TICK_MS = 10

/** At most `probes` x `perTick` readings in 10 ms, and never more than `window` unconfirmed ones of a probe. */
export async function startLoad(options: {
  readonly url: string
  readonly probes: number
  readonly perTick: number
  readonly window: number
}): Promise<Load> {
  const began = performance.now()
  const probes = await Promise.all(
    Array.from({ length: options.probes }, async (_, i) => {
      const id = `load${i}`
      const client = await mqtt.connectAsync(options.url, {
        clientId: id,
        protocolVersion: 4,
        reconnectPeriod: 50,
        keepalive: 30,
      })
      // A broken link is what this is about; the client comes back by itself.
      client.on('error', () => {})
      return { id, client, sent: 0, acknowledged: new Set<number>() }
    }),
  )
  const inFlight = (): number =>
    probes.reduce((sum, { sent, acknowledged }) => sum + sent - acknowledged.size, 0)

  const timer = setInterval(() => {
    const uptime = Math.floor((performance.now() - began) / 1000)
    for (const probe of probes) {
      for (let k = 0; k < options.perTick; k++) {
        if (probe.sent - probe.acknowledged.size >= options.window) break
        const n = probe.sent++
        const body = JSON.stringify({ b: 1, n, u: uptime, v: loadValues(n) })
        probe.client.publish(`lm1/${probe.id}/up/r`, body, { qos: 1 }, (error) => {
          if (!error) probe.acknowledged.add(n)
        })
      }
    }
  }, TICK_MS)

  return {
    probes: probes.map(({ id }) => id),
    acknowledged: (id) => probes.find((probe) => probe.id === id)?.acknowledged ?? new Set(),
    acknowledgedCount: () => probes.reduce((sum, { acknowledged }) => sum + acknowledged.size, 0),
    inFlight,
    async finish() {
      clearInterval(timer)
      await until('everything sent is confirmed', () => inFlight() === 0, 20_000)
    },
    async close() {
      clearInterval(timer)
      await Promise.all(probes.map(({ client }) => client.endAsync(true)))
    },
  }
}
