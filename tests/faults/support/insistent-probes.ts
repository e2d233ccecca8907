import mqtt from 'mqtt'
import type { MqttClient } from 'mqtt'
import { until } from '../../support/until.ts'

/*
 * Probes by the letter of the firmware specification: each keeps what it measured until the hub's own word
 * (`dn/ack`) covers it, and sends it again, oldest first, for as long as that takes.
 */

/** Reading number `n` of any probe. Halves and quarters are exact in binary. */
export const valuesOf = (n: number): { readonly m1: number; readonly st: number } => ({
  m1: n,
  st: n / 4,
})

export interface InsistentProbes {
  readonly ids: readonly string[]
  /** Readings a probe took so far: the numbers from 0 up to one less. */
  taken(id: string): number
  /** Numbers the hub's own word covered. */
  told(id: string): ReadonlySet<number>
  /** Numbers whose message got its PUBACK; with the built-in broker that means on the disk. */
  confirmed(id: string): ReadonlySet<number>
  toldCount(): number
  takenCount(): number
  /** Goes on with the hub or broker at this address. */
  moveTo(url: string): void
  /** Takes nothing new, and waits until the hub's word covers everything. */
  finish(withinMs?: number): Promise<void>
  close(): Promise<void>
}

interface Row {
  readonly n: number
  readonly u: number
}
interface Probe {
  readonly id: string
  readonly trusts: boolean
  readonly client: MqttClient
  readonly told: Set<number>
  readonly confirmed: Set<number>
  readonly inFlight: Set<number>
  held: Row[]
  next: number
  /** Rows below this number are not fresh any more. */
  lateBelow: number
  /** Last row of the batch that waits for its answer, and when it went out; null: none does. */
  unanswered: number | null
  movedAt: number
}

const BOOT = 1
const TICK_MS = 10
/** Topic and payload together: what a common client library can send. */
const MESSAGE_BYTES = 249
const KEEP_ALIVE_S = 2

export async function startInsistentProbes(options: {
  readonly url: string
  readonly probes: number
  /** One reading of each probe in this time, ms. @default 10 */
  readonly everyMs?: number
  /** No more is taken while a probe holds so many that the hub has not spoken for. @default 400 */
  readonly window?: number
  /** Wait for an answer before a batch is sent again, ms. @default 600 */
  readonly resendAfterMs?: number
  /** How many of the probes let go of a reading at its PUBACK already, as simple ones do. @default 0 */
  readonly trusting?: number
}): Promise<InsistentProbes> {
  const { everyMs = 10, window = 400, resendAfterMs = 600, trusting = 0 } = options
  const began = performance.now()
  const uptime = (): number => Math.floor((performance.now() - began) / 1000)
  let url = new URL(options.url)

  function publish(probe: Probe, leaf: string, body: object, numbers: readonly number[]): void {
    const { client } = probe
    if (!client.connected) return
    client.publish(
      `lm1/${probe.id}/up/${leaf}`,
      JSON.stringify(body),
      { qos: 1, retain: leaf === 'state' },
      (error, packet) => {
        const messageId =
          packet !== undefined && 'messageId' in packet ? packet.messageId : undefined
        if (messageId !== undefined) probe.inFlight.delete(messageId)
        if (error) return
        for (const n of numbers) probe.confirmed.add(n)
        if (probe.trusts) probe.held = probe.held.filter(({ n }) => !numbers.includes(n))
      },
    )
    probe.inFlight.add(client.getLastMessageId())
  }

  function resend(probe: Probe): void {
    if (!probe.client.connected) return
    const r: number[][] = []
    const body = { b: BOOT, u: uptime(), c: ['m1', 'st'], r }
    const bytes = `lm1/${probe.id}/up/b${JSON.stringify(body)}`.length
    for (const { n, u } of probe.held) {
      r.push([n, u, ...Object.values(valuesOf(n))])
      const fits = bytes + JSON.stringify(r).length - 2 <= MESSAGE_BYTES
      if (fits && n < probe.lateBelow) continue
      r.pop()
      break
    }
    const numbers = r.map(([n]) => n!)
    const last = numbers.at(-1)
    if (last === undefined) return
    probe.unanswered = last
    probe.movedAt = performance.now()
    publish(probe, 'b', body, numbers)
  }

  function heard(probe: Probe, n: number): void {
    const before = probe.held.length
    for (const row of probe.held) if (row.n <= n) probe.told.add(row.n)
    probe.held = probe.held.filter((row) => row.n > n)
    if (probe.held.length < before) probe.movedAt = performance.now()
    if (probe.unanswered !== null && n >= probe.unanswered) {
      probe.unanswered = null
      resend(probe)
    }
  }

  function open(id: string, trusts: boolean): Probe {
    const client = mqtt.connect({
      protocol: 'mqtt',
      host: url.hostname,
      port: Number(url.port),
      clientId: id,
      username: id,
      protocolVersion: 4,
      clean: true,
      keepalive: KEEP_ALIVE_S,
      reconnectPeriod: 60,
      connectTimeout: 2000,
      queueQoSZero: false,
      resubscribe: false,
      will: {
        topic: `lm1/${id}/up/state`,
        payload: Buffer.from(`{"s":"off","b":${BOOT}}`),
        qos: 1,
      },
    })
    const probe: Probe = {
      id,
      trusts,
      client,
      told: new Set(),
      confirmed: new Set(),
      inFlight: new Set(),
      held: [],
      next: 0,
      lateBelow: 0,
      unanswered: null,
      movedAt: performance.now(),
    }
    // A broken link is what this is about; the client comes back by itself.
    client.on('error', () => {})
    client.on('connect', () => {
      client.subscribe(`lm1/${id}/dn/#`, { qos: 0 }, () => {})
      publish(probe, 'state', { s: 'on', b: BOOT, u: uptime() }, [])
      probe.lateBelow = probe.next
      probe.unanswered = null
      resend(probe)
    })
    client.on('close', () => {
      // Sent again by the client library, an old reading would pass for a fresh one.
      for (const messageId of probe.inFlight) client.removeOutgoingMessage(messageId)
      probe.inFlight.clear()
    })
    client.on('message', (topic, payload) => {
      if (!topic.endsWith('/dn/ack')) return
      const ack = JSON.parse(payload.toString()) as { b: number; n: number }
      if (ack.b === BOOT) heard(probe, ack.n)
    })
    return probe
  }

  const probes = Array.from({ length: options.probes }, (_, i) => open(`row${i}`, i < trusting))
  let taking = true
  let ticks = 0
  const timer = setInterval(() => {
    ticks++
    for (const [i, probe] of probes.entries()) {
      const due = (ticks * TICK_MS) / everyMs + i / probes.length
      const before = ((ticks - 1) * TICK_MS) / everyMs + i / probes.length
      for (let k = Math.floor(before); taking && k < Math.floor(due); k++) {
        if (probe.held.length >= window) break
        const row = { n: probe.next++, u: uptime() }
        probe.held.push(row)
        publish(probe, 'r', { b: BOOT, ...row, v: valuesOf(row.n) }, [row.n])
      }
      if (probe.held.length === 0 || performance.now() - probe.movedAt < resendAfterMs) continue
      probe.lateBelow = probe.next
      resend(probe)
    }
  }, TICK_MS)

  const of = (id: string): Probe => {
    const found = probes.find((probe) => probe.id === id)
    if (found === undefined) throw new Error(`no probe ${id}`)
    return found
  }
  return {
    ids: probes.map(({ id }) => id),
    taken: (id) => of(id).next,
    told: (id) => of(id).told,
    confirmed: (id) => of(id).confirmed,
    toldCount: () => probes.reduce((sum, { told }) => sum + told.size, 0),
    takenCount: () => probes.reduce((sum, { next }) => sum + next, 0),
    moveTo(next) {
      url = new URL(next)
      for (const { client } of probes) {
        client.options.host = url.hostname
        client.options.port = Number(url.port)
      }
    },
    async finish(withinMs = 40_000) {
      taking = false
      await until(
        'the hub speaks for everything that was measured',
        () => probes.every(({ held }) => held.length === 0),
        withinMs,
      ).catch((error: unknown) => {
        const left = probes.map(({ id, held, next }) => `${id} ${held.length} of ${next}`)
        throw new Error(`${String(error)}: still held: ${left.join(', ')}`, { cause: error })
      })
    },
    async close() {
      clearInterval(timer)
      await Promise.all(probes.map(({ client }) => client.endAsync(true)))
    },
  }
}
