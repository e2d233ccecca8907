import { connect, type MqttClient } from 'mqtt'
import { SECOND, type Clock } from '../model/clock.ts'
import type { Measurement } from '../simulator/probe.ts'
import type { ScenarioProbe } from '../simulator/scenario.ts'
import {
  goodbye,
  hello,
  lateMessages,
  liveMessage,
  type Counted,
  type WireMessage,
} from '../simulator/wire-messages.ts'
import { decode } from '../wire/payload.ts'

export interface SimulatedProbeOptions {
  /** Broker, such as mqtt://127.0.0.1:1883. */
  readonly url: string
  readonly probe: ScenarioProbe
  /** What it measures at a moment, epoch ms. */
  readonly measure: (at: number) => Measurement
  readonly clock: Clock
  /** Boot id: new at every start, as uint32. */
  readonly boot: number
  readonly intervalMs: number
  /** Wait before the first reading, so that many probes do not speak at once. @default 0 */
  readonly firstAfterMs?: number
  /** Told of trouble with the connection; it is tried again anyway. */
  readonly onTrouble?: (trouble: Error) => void
  readonly password?: string
}

export interface RunningProbe {
  /** Readings taken that the hub has not acknowledged. */
  unacknowledged(): number
  /** Says goodbye and closes the connection. */
  stop(): Promise<void>
}

const FIRMWARE = 'loam 0.4.0'
const KEEPALIVE_S = 30
const RECONNECT_MS = 2 * SECOND
/** The hub acknowledges at least once a minute; after two it is time to send again. */
const RESEND_AFTER_MS = 120 * SECOND

/**
 * A probe on the real wire: connects with a will, announces itself, sends a reading at QoS 1 as soon as it
 * is measured, keeps it until the hub's own acknowledgement came, and sends what is left as batches.
 */
export function startSimulatedProbe(options: SimulatedProbeOptions): RunningProbe {
  const { url, probe, measure, clock, boot, intervalMs } = options
  const { id } = probe
  const startedAt = clock()
  const uptimeS = (at: number): number => Math.max(0, Math.round((at - startedAt) / SECOND))
  const will = goodbye(id, boot)
  const client: MqttClient = connect(url, {
    clientId: id,
    username: id,
    ...(options.password === undefined ? {} : { password: options.password }),
    clean: true,
    keepalive: KEEPALIVE_S,
    reconnectPeriod: RECONNECT_MS,
    queueQoSZero: false,
    resubscribe: false,
    will: { topic: will.topic, payload: Buffer.from(will.payload), qos: 1, retain: true },
  })

  /** Taken and not yet acknowledged, oldest first. */
  let held: Counted[] = []
  let resentAt = startedAt
  let seq = 0
  const inFlight = new Set<number>()

  const publish = ({ topic, payload, retain }: WireMessage): void => {
    if (!client.connected) return
    client.publish(topic, payload, { qos: 1, retain }, (_error, packet) => {
      // Failed or not: what counts is the hub's acknowledgement, until which the reading is held.
      const messageId = packet !== undefined && 'messageId' in packet ? packet.messageId : undefined
      if (messageId !== undefined) inFlight.delete(messageId)
    })
    inFlight.add(client.getLastMessageId())
  }
  const sendHeld = (): void => {
    const at = clock()
    resentAt = at
    if (held.length === 0) return
    for (const message of lateMessages(id, held, uptimeS(at))) publish(message)
  }
  const measureOnce = (): void => {
    const at = clock()
    const one: Counted = { ...measure(at), boot, seq, uptimeS: uptimeS(at) }
    seq++
    const late = held.length > 0 && at - resentAt > RESEND_AFTER_MS
    held.push(one)
    if (held.length > probe.buffer) held.shift()
    publish(liveMessage(id, one))
    if (late && held[0] !== one) sendHeld()
  }

  client.on('connect', () => {
    client.subscribe(`lm1/${id}/dn/#`, { qos: 0 }, (error) => {
      if (error !== null) options.onTrouble?.(error)
    })
    for (const message of hello(probe, boot, uptimeS(clock()), intervalMs, FIRMWARE)) {
      publish(message)
    }
    sendHeld()
  })
  client.on('close', () => {
    // A reading sent again by the client library would pass for a fresh one: it goes into a batch instead.
    for (const messageId of inFlight) client.removeOutgoingMessage(messageId)
    inFlight.clear()
  })
  client.on('error', (error) => options.onTrouble?.(error))
  client.on('message', (topic, payload) => {
    const message = decode(topic, payload)
    if (!('kind' in message) || message.kind !== 'ack') return
    const { b, n } = message.body
    // An acknowledgement speaks of its own boot only.
    if (b !== boot) return
    held = held.filter((one) => one.seq > n)
    if (held.length === 0) resentAt = clock()
  })

  let timer: NodeJS.Timeout | undefined
  let nextAt = startedAt + (options.firstAfterMs ?? 0)
  const wait = (): void => {
    timer = setTimeout(
      () => {
        nextAt = Math.max(nextAt + intervalMs, clock())
        measureOnce()
        wait()
      },
      Math.max(0, nextAt - clock()),
    )
  }
  wait()

  return {
    unacknowledged: () => held.length,
    stop: async () => {
      clearTimeout(timer)
      if (client.connected) {
        const { topic, payload } = goodbye(id, boot)
        await new Promise<void>((resolve) => {
          client.publish(topic, payload, { qos: 1, retain: true }, () => resolve())
        })
      }
      await client.endAsync()
    },
  }
}
