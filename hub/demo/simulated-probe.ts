import { connect, type MqttClient } from 'mqtt'
import { SECOND, type Clock } from '../model/clock.ts'
import type { Measurement } from '../simulator/probe.ts'
import { seededRandom } from '../simulator/random.ts'
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
import { freshMemory, obey, type ProbeMemory } from './probe-obedience.ts'
import { heldReadings } from './held-readings.ts'

export interface SimulatedProbeOptions {
  /** Broker, such as mqtt://127.0.0.1:1883. */
  readonly url: string
  readonly probe: ScenarioProbe
  /** What it measures at a moment, epoch ms. */
  readonly measure: (at: number) => Measurement
  readonly clock: Clock
  /** First boot id, uint32; it goes up by one when the probe is told to restart. */
  readonly boot: number
  readonly intervalMs: number
  /** Wait before the first reading, so that many probes do not speak at once. @default 0 */
  readonly firstAfterMs?: number
  /** Told of trouble with the connection; it is tried again anyway. */
  readonly onTrouble?: (trouble: Error) => void
  readonly password?: string
  /** Certificates of who vouches for the broker, PEM. @default those this machine trusts */
  readonly ca?: string
  /** Told of every message about to go out; true throws it away, as a bad link would. @default none is lost */
  readonly loses?: () => boolean
  /** Wait for the hub's answer before a reading is sent again, ms. @default 60000 */
  readonly resendAfterMs?: number
  /** What an earlier run kept over the loss of power; it is written to. @default nothing */
  readonly memory?: ProbeMemory
  /** How many times faster than real time the clock runs. @default 1 */
  readonly speed?: number
  /** Seconds after which a silent connection is tried. @default 30 */
  readonly keepAliveS?: number
  /** Pauses before it connects again grow from the first to the longest, ms, each 20 % more or less. @default [1250, 80000] */
  readonly pausesMs?: readonly [first: number, longest: number]
  /** Told of every reading taken. */
  readonly onMeasured?: (one: Counted, at: number) => void
  /** Told of readings that went before the hub had acknowledged them: memory full, or power lost. */
  readonly onForgotten?: (readings: readonly Counted[]) => void
}

export interface RunningProbe {
  /** Readings taken that the hub has not acknowledged. */
  unacknowledged(): number
  /** Readings taken so far. */
  taken(): number
  /** Newest reading the hub has acknowledged, by its number; -1: none. */
  acknowledged(): number
  connected(): boolean
  /** The boot id in use. */
  boot(): number
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
const PAUSES_MS = [1.25 * SECOND, 80 * SECOND] as const
/** So that probes that lost their broker together do not all come back together. */
const PAUSE_SPREAD = 0.2
/** Samples behind one electrode voltage, and how they scatter, mV. */
const SAMPLES = 16
const SAMPLE_MV = 0.3
/** A broker that does not answer must not hold up the end. */
const GOODBYE_MS = 2 * SECOND

/**
 * A probe on the real wire: connects with a will, announces itself, sends a reading at QoS 1 as soon as it
 * is measured, keeps it until the hub's own acknowledgement came, and sends what is left as batches.
 */
export function startSimulatedProbe(options: SimulatedProbeOptions): RunningProbe {
  const { url, probe, measure, clock } = options
  const memory = options.memory ?? freshMemory()
  const speed = options.speed ?? 1
  const { id } = probe
  let boot = options.boot
  let startedAt = clock()
  const intervalMs = (): number =>
    memory.settings?.iv === undefined ? options.intervalMs : memory.settings.iv * SECOND
  /** Calls back after so much of the probe's time. */
  const after = (ms: number, work: () => void): NodeJS.Timeout =>
    setTimeout(work, Math.max(0, ms) / speed)
  let uptime = 0
  /** Never falls, whatever the clock does. */
  const uptimeS = (at: number): number => {
    const elapsed = (at - startedAt) * (1 + probe.clockError)
    uptime = Math.max(uptime, Math.round(elapsed / SECOND))
    return uptime
  }
  const samples = seededRandom(boot).split(`samples ${id}`)
  /** Spread of the samples behind one electrode voltage, as a standard deviation, mV. */
  const spreadMv = (): number => {
    const drawn = Array.from({ length: SAMPLES }, () => samples.normal(0, SAMPLE_MV))
    const mean = drawn.reduce((sum, one) => sum + one, 0) / SAMPLES
    const squares = drawn.reduce((sum, one) => sum + (one - mean) ** 2, 0)
    return Math.round(100 * Math.sqrt(squares / (SAMPLES - 1))) / 100
  }
  const lastWill = () => {
    const { topic, payload } = goodbye(id, boot)
    return { topic, payload: Buffer.from(payload), qos: 1, retain: true } as const
  }
  const [firstPauseMs, longestPauseMs] = options.pausesMs ?? PAUSES_MS
  const luck = seededRandom(boot).split(`pauses ${id}`)
  let pauses = 0
  /** The next pause before it connects again, ms of real time. */
  const nextPause = (): number => {
    const ms = Math.min(firstPauseMs * 2 ** pauses, longestPauseMs)
    pauses++
    return (ms * luck.between(1 - PAUSE_SPREAD, 1 + PAUSE_SPREAD)) / speed
  }
  const client: MqttClient = connect(url, {
    clientId: id,
    username: id,
    ...(options.password === undefined ? {} : { password: options.password }),
    ...(options.ca === undefined ? {} : { ca: options.ca }),
    clean: true,
    keepalive: options.keepAliveS ?? KEEPALIVE_S,
    reconnectPeriod: nextPause(),
    queueQoSZero: false,
    resubscribe: false,
    will: lastWill(),
  })

  let held = heldReadings(probe.buffer, options.resendAfterMs)
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
    resending = after(dueAt - clock(), resend)
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
    options.onMeasured?.(one, at)
    const forgotten = held.add(one, at)
    if (forgotten !== null) options.onForgotten?.([forgotten])
    publish(liveMessage(id, one, one.values.phmv === null ? null : spreadMv()))
    planResending()
  }

  const greet = (): void => {
    const cv = memory.settings?.cv ?? null
    for (const message of hello(probe, boot, uptimeS(clock()), intervalMs(), FIRMWARE, cv)) {
      publish(message)
    }
  }
  const restart = (): void => {
    options.onForgotten?.(held.all())
    boot++
    startedAt = clock()
    uptime = 0
    seq = 0
    newest = -1
    held = heldReadings(probe.buffer, options.resendAfterMs)
    client.options.will = lastWill()
    clearTimeout(measuring)
    nextAt = startedAt + intervalMs()
    wait()
    // The answer goes out before the connection does.
    after(SECOND, () =>
      client.end(true, {}, () => {
        if (!stopped) client.reconnect()
      }),
    )
  }
  const obeyed = obey(id, memory, {
    apply() {
      greet()
      clearTimeout(measuring)
      nextAt = clock() + intervalMs()
      wait()
    },
    carryOut(command, then) {
      if (command.do === 'read') then(measureOnce)
      else if (command.do === 'hello') then(greet)
      else if (command.do === 'reboot') then(restart)
      else if (command.do === 'resend') {
        const from = command.n ?? 0
        const to = from + (command.k ?? 1)
        const has = held.all().some((one) => one.seq >= from && one.seq < to)
        if (command.b !== boot || !has) return 'gone'
        then(() => {
          held.connected(clock())
          planResending()
        })
      }
      return null
    },
    answer: publish,
  })

  client.on('connect', () => {
    pauses = 0
    client.options.reconnectPeriod = nextPause()
    client.subscribe(`lm1/${id}/dn/#`, { qos: 0 }, (error) => {
      if (error !== null) options.onTrouble?.(error)
    })
    greet()
    held.connected(clock())
    planResending()
  })
  client.on('close', () => {
    forgetInFlight()
    // The client has just begun its pause: this is the one after it.
    client.options.reconnectPeriod = nextPause()
  })
  client.on('error', (error) => options.onTrouble?.(error))
  client.on('message', (topic, payload, packet) => {
    obeyed(topic, payload, packet.retain)
    const message = decode(topic, payload)
    if (!('kind' in message) || message.kind !== 'ack' || message.probe !== id) return
    // An acknowledgement speaks of its own boot only.
    if (message.body.b !== boot) return
    newest = Math.max(newest, message.body.n)
    held.acknowledged(message.body.n, clock())
    planResending()
  })

  let nextAt = startedAt + (options.firstAfterMs ?? 0)
  const wait = (): void => {
    measuring = after(nextAt - clock(), () => {
      nextAt = Math.max(nextAt + intervalMs(), clock())
      measureOnce()
      wait()
    })
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
      const { topic, payload } = goodbye(id, boot)
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
    boot: () => boot,
    loseReach: () => void client.end(true),
    regainReach: () => {
      if (!stopped) client.reconnect()
    },
    losePower: () => {
      halt()
      options.onForgotten?.(held.all())
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
