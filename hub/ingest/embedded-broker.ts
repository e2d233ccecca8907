import type { Socket } from 'node:net'
import { Aedes } from 'aedes'
import type { AuthenticateError, Client, PublishPacket } from 'aedes'
import { HubError } from '../errors.ts'
import type { LiveCertificate } from '../model/certificate.ts'
import type { Clock } from '../model/clock.ts'
import { formatTopic } from '../wire/topic.ts'
import {
  letsIn,
  listensToProbes,
  mayRead,
  maySubscribe,
  refuseConnect,
  refusePublish,
  type Strangers,
} from './access.ts'
import { createStateKeeper } from './front.ts'
import type { Front, IngestLog } from './front.ts'
import { createFunnel } from './funnel.ts'
import type { Downlink, Ingest } from './ingest.ts'
import { listenMqtt, type MqttListener } from './listen-mqtt.ts'
import type { ProbePasswords } from './probe-passwords.ts'
import type { RateLimiter } from './rate-limiter.ts'

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
/** CONNACK return codes (MQTT 3.1.1, 3.2.2.3). */
const IDENTIFIER_REJECTED = 2
const UNAVAILABLE = 3
const BAD_PASSWORD = 4
const NOT_AUTHORISED = 5
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

/** Who a connection was let in as. */
interface Guest {
  /** Its user name; null for somebody who gave none. */
  readonly user: string | null
  /** Since when the password it gave holds; null without one. */
  readonly since: number | null
}

interface Refusal {
  readonly code: number
  readonly reason: string
}

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
  const guests = new WeakMap<Client, Guest>()
  const connected = new Map<string, Client>()
  const listening = new Map<string, Set<string>>()
  const unrouted = new WeakSet<object>()
  const filters = new WeakMap<Client, Set<string>>()
  const ended = new WeakSet<Client>()
  const denied = new Set<string>()
  let stopping = false

  const broker = new Aedes({ connectTimeout: CONNECT_TIMEOUT_MS, concurrency: 1000 })
  const funnel = createFunnel({
    ingest: (batch) => ingest.ingest(batch),
    onDownlinks: (downlinks) => downlinks.forEach(send),
  })

  const userOf = (client: Client | null): string | null =>
    client === null ? null : (guests.get(client)?.user ?? null)
  const needsPassword = (probe: string): boolean =>
    passwords !== undefined && passwords.state(probe) !== 'none'

  /** Warns of the first refusal of a kind. */
  function warnOnce(key: string, message: string): void {
    if (denied.has(key) || denied.size >= REFUSALS_TOLD) return
    denied.add(key)
    log.warn(message)
  }

  async function admit(
    client: Client,
    user: string | null,
    password: Buffer | undefined,
  ): Promise<Guest | Refusal> {
    const misnamed = refuseConnect(client.id, user)
    if (misnamed !== null) return { code: IDENTIFIER_REJECTED, reason: misnamed }
    // Under the client id of a probe a stranger would push that probe out.
    const probe = user ?? client.id
    const kept = passwords?.state(probe) ?? 'none'
    if (kept === 'revoked') {
      return { code: NOT_AUTHORISED, reason: 'its password was taken away; make a new one' }
    }
    if (kept === 'set') {
      const since = passwords?.since(probe) ?? null
      if (user === null) return { code: NOT_AUTHORISED, reason: 'it has a password and gave none' }
      const right = await passwords?.check(probe, password)
      if (right === 'busy') return { code: UNAVAILABLE, reason: 'too many logins at once' }
      return right === true ? { user, since } : { code: BAD_PASSWORD, reason: 'wrong password' }
    }
    const { remoteAddress, localAddress } = client.conn as Socket
    if (letsIn(strangers, remoteAddress, localAddress)) return { user, since: null }
    return {
      code: NOT_AUTHORISED,
      reason:
        `it has no password here and comes from ${remoteAddress ?? 'somewhere'}: add it on the page of ` +
        'probes and give it its password, or set LOAMLINE_STRANGERS=anyone',
    }
  }

  async function letIn(
    client: Client,
    user: string | null,
    password: Buffer | undefined,
    done: (error: AuthenticateError | null, success: boolean) => void,
  ): Promise<void> {
    const outcome = await admit(client, user, password)
    if (!('code' in outcome)) {
      guests.set(client, outcome)
      done(null, true)
      return
    }
    const { code, reason } = outcome
    warnOnce(`${client.id} ${reason}`, `${client.id}: not let in: ${reason}`)
    const error = new Error(reason) as AuthenticateError
    error.returnCode = code
    done(error, false)
  }

  broker.authenticate = (client, username, password, done) => {
    const user = username === undefined || username === '' ? null : username
    letIn(client, user, password as Buffer | undefined, done).catch(crash)
  }

  broker.on('client', (client) => {
    connected.set(client.id, client)
    // The password may have changed between the check and now.
    if (!stillHolds(client)) client.close()
  })

  function stillHolds(client: Client): boolean {
    const guest = guests.get(client)
    const kept = passwords?.state(client.id) ?? 'none'
    return kept === 'none' || (kept === 'set' && guest?.since === passwords?.since(client.id))
  }

  const offChanged = passwords?.onChanged((probe) => {
    const client = connected.get(probe)
    if (client === undefined || stillHolds(client)) return
    log.info(`${probe}: its password has changed, the connection is ended`)
    client.close()
  })

  broker.authorizePublish = (client, packet, done) => {
    if (stopping) {
      done(new Error('the hub is stopping'))
      return
    }
    const user = userOf(client)
    const [, owner, , leaf] = packet.topic.split('/')
    const refused = refusePublish(packet.topic, user, needsPassword)
    const payload = Buffer.isBuffer(packet.payload) ? packet.payload : Buffer.from(packet.payload)
    // A stranger is counted by whom it speaks for; what is refused falls to whoever sends it.
    const sender = user ?? (refused === null ? (owner ?? '') : `client ${client?.id ?? ''}`)
    const bytes = Buffer.byteLength(packet.topic) + payload.length
    if (limiter !== undefined && !limiter.admit(sender, leaf, bytes)) {
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
    funnel.push(
      {
        topic: packet.topic,
        payload,
        retain: false,
        arrivedAt: clock(),
        mayBeDelayed: false,
        ...(refused === null ? {} : { refused }),
      },
      done,
    )
  }

  broker.authorizeSubscribe = (client, subscription, done) => {
    const mine = filters.get(client) ?? new Set()
    filters.set(client, mine)
    const few = mine.has(subscription.topic) || mine.size < MOST_FILTERS
    const allowed = few && maySubscribe(subscription.topic, userOf(client))
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
    mayRead(packet.topic, userOf(client)) ? packet : null

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
      log.info(`${client.id}: connection ended: ${error.message}`)
  })
  broker.on('connectionError', (_client, error) => {
    if (!stopping) log.info(`a client went before it was let in: ${error.message}`)
  })

  const route = broker.publish.bind(broker) as unknown as Publish
  broker.publish = ((packet: PublishPacket, client: unknown, done?: () => void) => {
    if (typeof client === 'function') route(packet, null, client as () => void)
    else if (unrouted.has(packet)) setImmediate(done ?? (() => {}))
    else route(packet, client, done ?? (() => {}))
  }) as typeof broker.publish
  await broker.listen()

  const { host, plain = 'yes', encrypted } = options
  const entrance = {
    log,
    onSocket: (socket: Socket) => void broker.handle(socket),
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
      addresses.push(`mqtt://${inUrl(at)}:${door.port}`)
    }
    if (encrypted !== undefined) {
      const door = await listenMqtt({
        ...entrance,
        ...encrypted,
        host,
        setting: 'LOAMLINE_MQTT_TLS_PORT',
      })
      doors.push(door)
      addresses.push(`mqtts://${inUrl(host)}:${door.port}`)
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

/** A fault of the hub's own code must end the process, not be swallowed by a promise. */
function crash(error: unknown): void {
  setImmediate(() => {
    throw error
  })
}

/** Descriptions of a probe that the broker may keep for later subscribers. */
function isRetainable(topic: string): boolean {
  return /\/up\/(state|birth|ch\/[^/]+)$/.test(topic)
}

/** A host as it stands in an address. */
function inUrl(host: string): string {
  return host.includes(':') ? `[${host}]` : host
}

function unavailable(cause: Error): HubError {
  return new HubError('HUB_BROKER_UNAVAILABLE', `the broker did not take it: ${cause.message}`, {
    retry: true,
    cause,
  })
}
