import { readFileSync } from 'node:fs'
import { connect as connectTcp } from 'node:net'
import type { Socket } from 'node:net'
import { connect as connectTls } from 'node:tls'
import { MqttClient } from 'mqtt'
import type { IClientOptions } from 'mqtt'
import { HubError } from '../errors.ts'
import type { Clock } from '../model/clock.ts'
import { DAY, MINUTE, SECOND } from '../model/clock.ts'
import { formatTopic, PREFIX } from '../wire/topic.ts'
import type { BrokerTarget } from './broker-url.ts'
import type { Funnel } from './funnel.ts'
import type { Arrival, Downlink } from './ingest.ts'
import { createPubackWriter, type PubackWriter } from './puback-writer.ts'
import { layPublishLane } from './publish-lane.ts'
import { publishPackets } from './publish-packets.ts'
import { tlsWording } from './tls-wording.ts'

export interface ConnectionOptions {
  readonly target: BrokerTarget
  /** File with the certificates of who vouches for the broker, PEM; null: those this machine trusts. */
  readonly caFile: string | null
  readonly version: 5 | 4
  readonly clientId: string
  readonly username: string | null
  readonly password: string | null
  /** What is listened to. */
  readonly topics: readonly string[]
  /** What the session may still listen to from earlier, and is not to any more. */
  readonly unwanted: readonly string[]
  /** Where this program says, retained, that it is there. */
  readonly presence: string
  /** How long the broker keeps messages while this program is away, s. */
  readonly sessionExpiryS: number
  readonly funnel: Funnel
  readonly clock: Clock
  /** The broker may hold messages that are older than two minutes. */
  readonly wasAwayLong: boolean
  /** A silent connection is tried after so many seconds. @default 60 */
  readonly keepAliveS?: number
  /**
   * Whether a message that comes in now, of so many bytes, may pass. `heldBack`: the broker kept it, so that it comes
   * with others at once through no fault of the probe's.
   */
  readonly admit: (topic: string, bytes: number, heldBack: boolean) => boolean
  readonly onUp: () => void
  readonly onProblem: (problem: string) => void
  readonly onClosed: (closed: {
    readonly problem: string
    /** It said that it does not speak this version of MQTT. */
    readonly refusedVersion: boolean
    /** It hung up before it answered, as some brokers do on a version they do not know. */
    readonly hungUp: boolean
    /** The broker said that another program signed in under the same client id. */
    readonly takenOver: boolean
    /** It hung up on a hub that was in, and gave no reason. */
    readonly thrownOut: boolean
    /** When the broker was last heard of, epoch ms. */
    readonly lastHeardAt: number | null
  }) => void
}

/** One connection to the broker, from dialling to its end; there is no second life for it. */
export interface BrokerConnection {
  publish(
    topic: string,
    payload: string,
    options: { readonly retain: boolean; readonly qos: 0 | 1 },
  ): Promise<void>
  /** Sends messages at QoS 0 in one write; what cannot go now does not go. */
  send(messages: readonly Downlink[]): void
  /** Takes no more messages; the broker keeps them. */
  pause(): void
  /** Says that the hub goes, then goes. */
  end(): Promise<void>
}

/** All that probes send. */
export const PROBE_TOPICS: readonly string[] = [`${PREFIX}/+/up/#`]
export const HUB_STATE = formatTopic({ to: 'all', leaf: 'state' })
const CONNECT_TIMEOUT_MS = 5 * SECOND
const KEEP_ALIVE_S = 60
/** How long the broker keeps messages for a hub that is away. */
export const SESSION_EXPIRY_S = (30 * DAY) / SECOND
const RECEIVE_MAXIMUM = 1000
/** Without an echo of the hub's own state, the backlog counts as drained after this, at the first lull. */
const DRAINED_AFTER_MS = MINUTE
const LULL_MS = 500
/** CONNACK codes for a protocol version the broker does not have: MQTT 3.1.1 and MQTT 5. */
const WRONG_VERSION: readonly number[] = [1, 0x84]
/** MQTT 5, 3.14.2.1: another connection took this session over. */
const TAKEN_OVER = 0x8e
const END_TIMEOUT_MS = 2 * SECOND
/** What a probe may send is a sixteenth of it. */
const LONGEST_QUICK_BYTES = 4096

/** A message that nobody waits to see confirmed. */
const forgo = (): void => {}

/** Told to the packet pump instead of success: go on, but send no PUBACK. */
const NOT_YET = new Error('acknowledged after the commit')

export function openConnection(options: ConnectionOptions): BrokerConnection {
  const { target, version, funnel, clock, presence } = options
  const inFlight = new Set<(error: HubError) => void>()
  let socket: Socket | undefined
  let problem = `broker ${target.address} closed the connection`
  let refusedVersion = false
  let reached = false
  let answered = false
  let takenOver = false
  let failed = false
  let alive = true
  let paused = false
  let drained = !options.wasAwayLong
  let upAt = 0
  let lastHeardAt: number | null = null
  let lastMessageAt = 0
  /** Messages the library was left with and has not come to yet. */
  let left = 0
  let pubacks: PubackWriter | null = null

  const settings: IClientOptions = {
    protocolVersion: version,
    clientId: options.clientId,
    clean: false,
    keepalive: options.keepAliveS ?? KEEP_ALIVE_S,
    // Each connection has a client of its own: message ids of an old one can never reach a new one.
    reconnectPeriod: 0,
    connectTimeout: CONNECT_TIMEOUT_MS,
    queueQoSZero: false,
    will: { topic: presence, payload: Buffer.from('{"s":"off"}'), qos: 1, retain: true },
    ...(options.username === null ? {} : { username: options.username }),
    ...(options.password === null ? {} : { password: options.password }),
    ...(version === 5
      ? {
          properties: {
            receiveMaximum: RECEIVE_MAXIMUM,
            sessionExpiryInterval: options.sessionExpiryS,
          },
        }
      : {}),
  }
  const client = new MqttClient(() => {
    socket = dial(target, options.caFile)
    socket.on(target.encrypted ? 'secureConnect' : 'connect', () => (reached = true))
    socket.on('error', (error: NodeJS.ErrnoException) => {
      failed = true
      problem = `broker ${target.address}: ${wording(error, target.encrypted && !reached, options.caFile !== null)}`
    })
    pubacks = createPubackWriter(socket)
    layPublishLane(socket, {
      version,
      longest: LONGEST_QUICK_BYTES,
      // Nothing may overtake what the library has before it.
      isOpen: () => alive && upAt > 0 && !paused && left === 0,
      onLeft: () => left++,
      take(topic, payload, messageId, retain) {
        if (topic === presence) return false
        hear({ topic, payload, retain, qos: 1 }, messageId)
        return true
      },
      isFull: () => funnel.isFull(),
      whenRoom: (resume) => funnel.whenRoom(resume),
    })
    return socket
  }, settings)

  client.handleMessage = (packet, done) => {
    left = Math.max(0, left - 1)
    if (packet.topic === presence) {
      // Its own word has come back: everything the broker held before it has been delivered.
      if (packet.retain !== true) drained = true
      done()
      return
    }
    if (paused) {
      done(packet.qos === 0 ? undefined : NOT_YET)
      return
    }
    const { topic, qos, messageId = 0 } = packet
    const payload = Buffer.isBuffer(packet.payload) ? packet.payload : Buffer.from(packet.payload)
    if (hear({ topic, payload, retain: packet.retain === true, qos }, messageId)) {
      const goOn = (): void => done(qos === 0 ? undefined : NOT_YET)
      if (funnel.isFull()) funnel.whenRoom(goOn)
      else goOn()
    } else done(qos === 0 ? undefined : NOT_YET)
  }

  /** Takes a message that came in; false when it is over a limit, and confirmed without having been taken. */
  function hear(
    message: Pick<Arrival, 'topic' | 'retain'> & { readonly payload: Buffer; readonly qos: number },
    messageId: number,
  ): boolean {
    const { topic, payload, retain, qos } = message
    const now = clock()
    if (!drained && now - upAt > DRAINED_AFTER_MS && now - lastMessageAt > LULL_MS) drained = true
    lastMessageAt = now
    lastHeardAt = now
    if (!options.admit(topic, topic.length + payload.length, !drained || retain)) {
      if (qos > 0) pubacks?.confirm(messageId)
      return false
    }
    const mayBeDelayed = !drained && !retain
    const settled = qos > 0 ? acknowledge : forgo
    funnel.push({ topic, payload, retain, arrivedAt: now, mayBeDelayed }, settled, messageId)
    return true
  }

  /** After its commit a message is confirmed; one that was not kept comes again. */
  function acknowledge(error: Error | null, messageId: number): void {
    if (error === null && alive) pubacks?.confirm(messageId)
  }

  client.on('packetreceive', () => (lastHeardAt = clock()))
  client.on('connect', (connack) => {
    answered = true
    upAt = clock()
    if (!connack.sessionPresent) drained = true
    // Also when the session is there: a newer hub may listen to more, and kept descriptions come again.
    client.subscribe([...options.topics], { qos: 1 }, (error) => {
      if (error) {
        if (error.message.startsWith('Subscribe error'))
          options.onProblem(
            `broker ${target.address} does not let the hub read ${options.topics.join(', ')}`,
          )
        return
      }
      if (options.unwanted.length === 0) beUp()
      else
        client.unsubscribe([...options.unwanted], (failure) => {
          if (!failure) beUp()
        })
    })
  })
  function beUp(): void {
    options.onUp()
    // The echo only serves to know when the backlog has been delivered: it may be forbidden.
    client.subscribe(presence, { qos: 1 }, () => {
      client.publish(presence, '{"s":"on"}', { qos: 1, retain: true })
    })
  }
  client.on('disconnect', ({ reasonCode }) => {
    if (reasonCode !== TAKEN_OVER) return
    takenOver = true
    problem =
      `another program has signed in at broker ${target.address} as ${options.clientId}; each needs a ` +
      'LOAMLINE_BROKER_CLIENT_ID of its own'
  })
  client.on('error', (error: Error & { code?: number | string }) => {
    failed = true
    if (typeof error.code === 'number') {
      answered = true
      refusedVersion = WRONG_VERSION.includes(error.code)
      problem = `broker ${target.address} refused the hub: ${error.message}`
    } else if (error.message.startsWith('connack timeout')) {
      problem = `broker ${target.address} did not answer within ${CONNECT_TIMEOUT_MS / SECOND} s`
    } else if (error.message.startsWith('Keepalive timeout')) {
      problem = `broker ${target.address} did not answer any more, though the connection stood`
    }
  })
  client.on('close', () => {
    if (!alive) return
    alive = false
    for (const fail of inFlight) fail(unavailable(problem))
    inFlight.clear()
    options.onClosed({
      problem,
      refusedVersion,
      hungUp: reached && !answered,
      takenOver,
      thrownOut: upAt > 0 && !failed,
      lastHeardAt,
    })
  })

  return {
    publish: (topic, payload, { retain, qos }) =>
      new Promise((resolve, reject) => {
        if (!alive) {
          reject(unavailable(problem))
          return
        }
        inFlight.add(reject)
        client.publish(topic, payload, { retain, qos }, (error) => {
          inFlight.delete(reject)
          if (error) reject(unavailable(error.message))
          else resolve()
        })
      }),
    send(messages) {
      if (!alive || !client.connected || socket === undefined || messages.length === 0) return
      socket.write(publishPackets(messages, version))
    },
    pause() {
      paused = true
    },
    async end() {
      if (!alive) return
      if (client.connected) {
        await Promise.race([
          client.publishAsync(presence, '{"s":"off"}', { qos: 1, retain: true }).catch(() => {}),
          new Promise((resolve) => setTimeout(resolve, END_TIMEOUT_MS).unref()),
        ])
      }
      alive = false
      await client.endAsync(!client.connected)
    },
  }
}

function dial(target: BrokerTarget, caFile: string | null): Socket {
  const { host, port } = target
  if (!target.encrypted) return connectTcp({ host, port }).setNoDelay(true)
  try {
    // At every attempt: a file that was put right, or renewed, holds from then on.
    const ca = caFile === null ? {} : { ca: readFileSync(caFile) }
    const name = target.serverName === null ? {} : { servername: target.serverName }
    return connectTls({ host, port, minVersion: 'TLSv1.2', ...name, ...ca }).setNoDelay(true)
  } catch (error) {
    const cause = new Error(`LOAMLINE_BROKER_CA cannot be used: ${(error as Error).message}`)
    // A line that fails before it is dialled: whoever uses it hears the reason as of any other.
    const name = 'not.dialled.invalid'
    return connectTcp({ host: name, port, lookup: (_n, _options, found) => found(cause, '', 4) })
  }
}

const WORDING: Readonly<Record<string, string>> = {
  ECONNREFUSED: 'nothing listens there (connection refused)',
  ENOTFOUND: 'no machine of that name',
  EAI_AGAIN: 'its name cannot be looked up at the moment',
  ECONNRESET: 'the connection was reset',
  EPIPE: 'the connection was reset',
  ETIMEDOUT: 'it did not answer in time',
  EHOSTUNREACH: 'there is no way to it through the network',
  ENETUNREACH: 'there is no way to it through the network',
}

function wording(error: NodeJS.ErrnoException, shaking: boolean, withCa: boolean): string {
  return (
    (shaking ? tlsWording({ code: error.code ?? '', message: error.message }, withCa) : null) ??
    WORDING[error.code ?? ''] ??
    error.message
  )
}

function unavailable(message: string): HubError {
  return new HubError('HUB_BROKER_UNAVAILABLE', message, { retry: true })
}
