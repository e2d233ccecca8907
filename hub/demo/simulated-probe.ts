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
import { heldReadings } from './held-readings.ts'

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
  /** Told of every message about to go out; true throws it away, as a bad link would. @default none is lost */
  readonly loses?: () => boolean
  /** Wait for the hub's answer before a reading is sent again, ms. @default 60000 */
  readonly resendAfterMs?: number
}

export interface RunningProbe {
  /** Readings taken that the hub has not acknowledged. */
  unacknowledged(): number
  /** Readings taken so far. */
  taken(): number
  /** Newest reading the hub has acknowledged, by its number; -1: none. */
  acknowledged(): number
  connected(): boolean
  /** Nothing gets through any more, and nobody said goodbye; it goes on measuring. */
  loseReach(): void
  /** The way is free again. */
  regainReach(): void
  /** The power goes: whatever it held is gone, and nobody said goodbye. */
  losePower(): void
  /** Says goodbye and closes the connection. */
  stop(): Promise<void>
}

const FIRMWARE = 'loam 0.4.0'
const KEEPALIVE_S = 30
const RECONNECT_MS = 2 * SECOND
/** A broker that does not answer must not hold up the end. */
const GOODBYE_MS = 2 * SECOND

/**
 * A probe on the real wire: connects with a will, announces itself, sends a reading at QoS 1 as soon as it
 * is measured, keeps it until the hub's own acknowledgement came, and sends what is left as batches.
 */
export function startSimulatedProbe(options: SimulatedProbeOptions): RunningProbe {
  const { url, probe, measure, clock, boot, intervalMs } = options
  const { id } = probe
  const startedAt = clock()
  let uptime = 0
  /** Never falls, whatever the clock does. */
  const uptimeS = (at: number): number => {
    const elapsed = (at - startedAt) * (1 + probe.clockError)
    uptime = Math.max(uptime, Math.round(elapsed / SECOND))
    return uptime
  }
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

  const held = heldReadings(probe.buffer, options.resendAfterMs)
  let seq = 0
  let newest = -1
  let stopped = false
  let measuring: NodeJS.Timeout | undefined
  let resending: NodeJS.Timeout | undefined
  const inFlight = new Set<number>()

  const publish = ({ topic, payload, retain }: WireMessage): void => {
    if (!client.connected || options.loses?.() === true) return
    client.publish(topic, payload, { qos: 1, retain }, (_error, packet) => {
      // Failed or not: what counts is the hub's acknowledgement, until which the reading is held.
      const messageId = packet !== undefined && 'messageId' in packet ? packet.messageId : undefined
      if (messageId !== undefined) inFlight.delete(messageId)
    })
    inFlight.add(client.getLastMessageId())
  }
  /** A reading sent again by the client library would pass for a fresh one: it goes into a batch instead. */
  const forgetInFlight = (): void => {
    for (const messageId of [...inFlight]) client.removeOutgoingMessage(messageId)
    inFlight.clear()
  }
  const planResending = (): void => {
    clearTimeout(resending)
    const dueAt = held.dueAt()
    if (stopped || dueAt === null || !client.connected) return
    resending = setTimeout(resend, Math.max(0, dueAt - clock()))
  }
  const resend = (): void => {
    const at = clock()
    const [batch] = lateMessages(id, held.due(at), uptimeS(at))
    if (batch !== undefined && client.connected) {
      publish(batch)
      held.sent(batch.last, at)
    }
    planResending()
  }
  const measureOnce = (): void => {
    const at = clock()
    const one: Counted = { ...measure(at), boot, seq, uptimeS: uptimeS(at) }
    seq++
    held.add(one, at)
    publish(liveMessage(id, one))
    planResending()
  }

  client.on('connect', () => {
    client.subscribe(`lm1/${id}/dn/#`, { qos: 0 }, (error) => {
      if (error !== null) options.onTrouble?.(error)
    })
    for (const message of hello(probe, boot, uptimeS(clock()), intervalMs, FIRMWARE)) {
      publish(message)
    }
    held.connected(clock())
    planResending()
  })
  client.on('close', forgetInFlight)
  client.on('error', (error) => options.onTrouble?.(error))
  client.on('message', (topic, payload) => {
    const message = decode(topic, payload)
    if (!('kind' in message) || message.kind !== 'ack') return
    // An acknowledgement speaks of its own boot only.
    if (message.body.b !== boot) return
    newest = Math.max(newest, message.body.n)
    held.acknowledged(message.body.n, clock())
    planResending()
  })

  let nextAt = startedAt + (options.firstAfterMs ?? 0)
  const wait = (): void => {
    measuring = setTimeout(
      () => {
        nextAt = Math.max(nextAt + intervalMs, clock())
        measureOnce()
        wait()
      },
      Math.max(0, nextAt - clock()),
    )
  }
  wait()

  /** True when the broker has it. */
  const sayGoodbye = (): Promise<boolean> =>
    new Promise((resolve) => {
      if (!client.connected) {
        resolve(false)
        return
      }
      const giveUp = setTimeout(() => resolve(false), GOODBYE_MS)
      const { topic, payload } = will
      client.publish(topic, payload, { qos: 1, retain: true }, (error) => {
        clearTimeout(giveUp)
        resolve(error === undefined || error === null)
      })
    })

  const halt = (): void => {
    stopped = true
    clearTimeout(measuring)
    clearTimeout(resending)
  }
  return {
    unacknowledged: () => held.count(),
    taken: () => seq,
    acknowledged: () => newest,
    connected: () => client.connected,
    loseReach: () => void client.end(true),
    regainReach: () => {
      if (!stopped) client.reconnect()
    },
    losePower: () => {
      halt()
      client.end(true)
    },
    stop: async () => {
      halt()
      const said = await sayGoodbye()
      forgetInFlight()
      // Without a goodbye the broker speaks the will, which says the same.
      await client.endAsync(!said)
    },
  }
}
