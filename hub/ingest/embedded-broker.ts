import type { Socket } from 'node:net'
import { Aedes } from 'aedes'
import { writeToStream } from 'mqtt-packet'
import type { Client, PublishPacket } from 'aedes'
import { HubError } from '../errors.ts'
import { urlHost } from '../model/address.ts'
import type { LiveCertificate } from '../model/certificate.ts'
import type { Clock } from '../model/clock.ts'
import { formatTopic } from '../wire/topic.ts'
import { listensToProbes, mayRead, maySubscribe, refusePublish, type Strangers } from './access.ts'
import { createAdmission } from './admission.ts'
import { boundBrokerMemory, type BrokerMemory } from './broker-memory.ts'
import { createClientLanes } from './client-lanes.ts'
import { createStateKeeper } from './front.ts'
import type { Front, IngestLog } from './front.ts'
import { createFunnel, SECOND_FROM } from './funnel.ts'
import type { Arrival, Downlink, Ingest } from './ingest.ts'
import { listenMqtt, type MqttListener } from './listen-mqtt.ts'
import type { ProbePasswords } from './probe-passwords.ts'
import type { RateLimiter } from './rate-limiter.ts'
import { seldom } from './seldom.ts'

// Without 65,536 ready-made buffers of two bytes, some 8 MB of them.
writeToStream.cacheNumbers = false

export interface EmbeddedBrokerOptions {
  readonly host: string
  /** TCP port; 0 takes a free one. */
  readonly port: number
  /** Whether there is a way in without encryption: for all, for this machine alone, for nobody. @default 'yes' */
  readonly plain?: 'yes' | 'local' | 'no'
  /** A way in over TLS beside or instead of it; port 0 takes a free one. @default none */
  readonly encrypted?: { readonly port: number; readonly certificate: LiveCertificate }
  readonly ingest: Ingest
  readonly clock: Clock
  readonly log: IngestLog
  /** @default no probe has a password */
  readonly passwords?: ProbePasswords
  /** Who is let in without a probe's password. @default 'anyone' */
  readonly strangers?: Strangers
  /** @default everybody sends as much as they like */
  readonly limiter?: RateLimiter
}

const CONNECT_TIMEOUT_MS = 10_000
/** Subscriptions of one connection; a probe has two. */
const MOST_FILTERS = 100
/** Refusals that were told in the log; further ones of the same kind are not. */
const REFUSALS_TOLD = 1000
const HUB_STATE = formatTopic({ to: 'all', leaf: 'state' })

type Publish = (
  packet: PublishPacket,
  client: unknown,
  done: (error?: Error | null) => void,
) => void

/** The limit is said once, by the limiter; here it only ends the connection. */
class OverLimitError extends Error {
  override readonly name = 'OverLimitError'
}

/**
 * The hub's own MQTT 3.1.1 broker. A publish is held in the authorise step until its commit, so that the
 * probe's PUBACK says "on disk". Probes' retained descriptions and the hub's own messages are routed as
 * usual; readings only when somebody is subscribed to see them.
 *
 * @throws HubError HUB_PORT_IN_USE
 */
export async function openEmbeddedBroker(options: EmbeddedBrokerOptions): Promise<Front> {
  const { ingest, clock, log, passwords, limiter } = options
  const strangers = options.strangers ?? 'anyone'
  const state = createStateKeeper({ state: 'up', problem: null }, clock)
  const connected = new Map<string, Client>()
  const listening = new Map<string, Set<string>>()
  const unrouted = new WeakSet<object>()
  const filters = new WeakMap<Client, Set<string>>()
  const ended = new WeakSet<Client>()
  const denied = new Set<string>()
  const turnedAway: IngestLog = {
    warn: seldom((text) => log.warn(text), clock),
    info: seldom((text) => log.info(text), clock),
  }
  let stopping = false

  const broker = new Aedes({ connectTimeout: CONNECT_TIMEOUT_MS, concurrency: 1000 })
  const funnel = createFunnel({
    ingest: (batch) => ingest.ingest(batch),
    ...(ingest.takesTwo === true ? { secondFrom: SECOND_FROM } : {}),
    onDownlinks: (downlinks) => downlinks.forEach(send),
  })

  /** Warns of the first refusal of a kind. */
  function warnOnce(key: string, message: string): void {
    if (denied.has(key) || denied.size >= REFUSALS_TOLD) return
    denied.add(key)
    log.warn(message)
  }

  const admission = createAdmission({
    passwords,
    strangers,
    onRefused: (id, reason) => warnOnce(`${id} ${reason}`, `${id}: not let in: ${reason}`),
  })
  broker.authenticate = (client, username, password, done) =>
    admission.authenticate(client, username, password as Buffer | undefined, done)

  const lanes = createClientLanes({
    funnel,
    // Whoever looks at readings gets them from the library.
    isOpen: () => !stopping && listening.size === 0,
    take(client, topic, payload, settled, messageId) {
      const { refused, sender, known, leaf } = judge(client, topic)
      if (refused !== null) return false
      if (isOverLimit(sender, known, leaf, topic, payload)) {
        client.emit('error', new OverLimitError(`more messages than ${sender} may send`))
        return true
      }
      funnel.push(asArrival(topic, payload), settled, messageId)
      return true
    },
  })

  broker.on('client', (client) => {
    connected.set(client.id, client)
    // The password may have changed between the check and now.
    if (admission.stillHolds(client)) lanes.open(client)
    else client.close()
  })

  const offChanged = passwords?.onChanged((probe) => {
    const client = connected.get(probe)
    if (client === undefined || admission.stillHolds(client)) return
    log.info(`${probe}: its password has changed, the connection is ended`)
    client.close()
  })

  /** Whether a client may send to a topic, why not, and whom it counts for. */
  function judge(
    client: Client | null,
    topic: string,
  ): {
    readonly refused: string | null
    readonly sender: string
    /** False: the sender is the address, for all there whom the garden does not know. */
    readonly known: boolean
    readonly leaf: string | undefined
  } {
    const user = admission.userOf(client)
    const [, owner = '', , leaf] = topic.split('/')
    const refused = refusePublish(topic, user, admission.needsPassword)
    // By a name counts who has shown that it is its own, and who speaks for a probe the garden knows. Any other name
    // is free for the asking, each with another account.
    if (user !== null && admission.hasShown(client))
      return { refused, sender: user, known: true, leaf }
    const known = refused === null && (ingest.knows?.(owner) ?? true)
    return { refused, sender: known ? owner : admission.addressOf(client), known, leaf }
  }

  function isOverLimit(
    sender: string,
    known: boolean,
    leaf: string | undefined,
    topic: string,
    payload: Buffer,
  ): boolean {
    if (limiter === undefined) return false
    const bytes = Buffer.byteLength(topic) + payload.length
    return !(known ? limiter.admit(sender, leaf, bytes) : limiter.admitUnknown(sender, bytes))
  }

  const asArrival = (topic: string, payload: Buffer): Arrival => ({
    topic,
    payload,
    retain: false,
    arrivedAt: clock(),
    mayBeDelayed: false,
  })

  broker.authorizePublish = (client, packet, done) => {
    if (client !== null) lanes.seen(client)
    if (stopping) {
      done(new Error('the hub is stopping'))
      return
    }
    const payload = Buffer.isBuffer(packet.payload) ? packet.payload : Buffer.from(packet.payload)
    const { refused, sender, known, leaf } = judge(client, packet.topic)
    if (isOverLimit(sender, known, leaf, packet.topic, payload)) {
      unrouted.add(packet)
      // MQTT 3.1.1, 3.3.5: what is not taken is acknowledged all the same, or the connection ends. A PUBACK
      // says "on disk" here.
      done(packet.qos === 0 ? null : new OverLimitError(`more messages than ${sender} may send`))
      return
    }
    if (refused !== null) {
      // Closing the connection instead would make the probe come back with the same message for ever.
      unrouted.add(packet)
      warnOnce(
        `${client?.id ?? ''} ${packet.topic}`,
        `${client?.id ?? 'a client'}: message kept in quarantine: ${refused}`,
      )
    } else if (isRetainable(packet.topic)) {
      // Descriptions stay retained as the probe asked.
    } else {
      // A retained reading would come back at every later subscription as if it were new.
      packet.retain = false
      if (listening.size === 0) unrouted.add(packet)
    }
    const arrival = asArrival(packet.topic, payload)
    funnel.push(refused === null ? arrival : { ...arrival, refused }, (error) => {
      if (client !== null) lanes.before(client)
      done(error)
    })
  }

  broker.authorizeSubscribe = (client, subscription, done) => {
    const mine = filters.get(client) ?? new Set()
    filters.set(client, mine)
    const few = mine.has(subscription.topic) || mine.size < MOST_FILTERS
    const allowed = few && maySubscribe(subscription.topic, admission.userOf(client))
    if (allowed) mine.add(subscription.topic)
    if (!allowed) {
      warnOnce(
        `${client.id} reads ${subscription.topic}`,
        `${client.id}: may not read ${subscription.topic}`,
      )
    }
    done(null, allowed ? subscription : null)
  }
  broker.authorizeForward = (client, packet) =>
    mayRead(packet.topic, admission.userOf(client)) ? packet : null

  broker.on('subscribe', (subscriptions, client) => {
    for (const { topic, qos } of subscriptions) {
      // The event also names what was refused (0x80 in the SUBACK).
      if ((qos as number) > 2 || !listensToProbes(topic)) continue
      const heard = listening.get(client.id) ?? new Set()
      heard.add(topic)
      listening.set(client.id, heard)
    }
  })
  broker.on('unsubscribe', (topics, client) => {
    const heard = listening.get(client.id)
    for (const topic of topics) {
      heard?.delete(topic)
      filters.get(client)?.delete(topic)
    }
    if (heard?.size === 0) listening.delete(client.id)
  })
  broker.on('clientDisconnect', (client) => {
    if (connected.get(client.id) === client) connected.delete(client.id)
    if (client.clean) listening.delete(client.id)
  })
  broker.on('clientError', (client, error) => {
    // Whatever was still under way fails after it, one by one.
    if (stopping || ended.has(client)) return
    ended.add(client)
    if (!(error instanceof OverLimitError))
      turnedAway.info(`${client.id}: connection ended: ${error.message}`)
  })
  broker.on('connectionError', (_client, error) => {
    if (!stopping) turnedAway.info(`a client went before it was let in: ${error.message}`)
  })

  const route = broker.publish.bind(broker) as unknown as Publish
  broker.publish = ((packet: PublishPacket, client: unknown, done?: () => void) => {
    if (typeof client === 'function') route(packet, null, client as () => void)
    else if (unrouted.has(packet)) setImmediate(done ?? (() => {}))
    else route(packet, client, done ?? (() => {}))
  }) as typeof broker.publish
  await broker.listen()
  // The library has it, its types do not.
  const { persistence } = broker as unknown as { readonly persistence: BrokerMemory }
  boundBrokerMemory(persistence, (sentence) => log.warn(sentence))

  const { host, plain = 'yes', encrypted } = options
  const entrance = {
    log: turnedAway,
    onSocket(socket: Socket) {
      lanes.lay(socket)
      broker.handle(socket)
    },
    onError: (error: Error) => state.set('down', error.message),
  }
  const doors: MqttListener[] = []
  const addresses: string[] = []
  try {
    if (plain !== 'no') {
      const at = plain === 'local' ? '127.0.0.1' : host
      const named = { port: options.port, setting: 'LOAMLINE_MQTT_PORT' }
      const door = await listenMqtt({ ...entrance, ...named, host: at, certificate: null })
      doors.push(door)
      addresses.push(`mqtt://${urlHost(at)}:${door.port}`)
    }
    if (encrypted !== undefined) {
      const door = await listenMqtt({
        ...entrance,
        ...encrypted,
        host,
        setting: 'LOAMLINE_MQTT_TLS_PORT',
      })
      doors.push(door)
      addresses.push(`mqtts://${urlHost(host)}:${door.port}`)
    }
  } catch (error) {
    for (const door of doors) void door.close()
    broker.close()
    throw error
  }
  const [address, further = null] = addresses
  if (address === undefined) throw new TypeError('expected at least one way in')

  function send({ topic, payload, retain }: Downlink): void {
    put(topic, payload, retain, 0).catch((error: unknown) => log.warn(`${topic}: ${String(error)}`))
  }

  function put(topic: string, payload: string, retain: boolean, qos: 0 | 1): Promise<void> {
    return new Promise((resolve, reject) => {
      const packet: PublishPacket = { cmd: 'publish', topic, payload, retain, qos, dup: false }
      route(packet, null, (error) => {
        if (error) reject(unavailable(error))
        else resolve()
      })
    })
  }

  await put(HUB_STATE, '{"s":"on"}', true, 1)

  return {
    kind: 'embedded',
    address,
    encryptedAddress: further ?? (plain === 'no' ? address : null),
    state: state.get,
    onState: state.onState,
    publish: (topic, payload, { retain }) => put(topic, payload, retain, 1),
    async stop() {
      if (stopping) return
      await put(HUB_STATE, '{"s":"off"}', true, 1)
      stopping = true
      offChanged?.()
      // What is being committed is still acknowledged; what a store in trouble holds up is not.
      if (ingest.state().state === 'up') await funnel.idle()
      const closed = Promise.all(doors.map((door) => door.close()))
      await new Promise<void>((resolve) => broker.close(resolve))
      for (const door of doors) door.hangUp()
      funnel.drop()
      await closed
      state.set('down', 'the hub has stopped')
    },
  }
}

/** Descriptions of a probe that the broker may keep for later subscribers. */
function isRetainable(topic: string): boolean {
  return /\/up\/(state|birth|ch\/[^/]+)$/.test(topic)
}

function unavailable(cause: Error): HubError {
  return new HubError('HUB_BROKER_UNAVAILABLE', `the broker did not take it: ${cause.message}`, {
    retry: true,
    cause,
  })
}
