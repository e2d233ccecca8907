import { createServer } from 'node:net'
import type { AddressInfo, Socket } from 'node:net'
import { Aedes } from 'aedes'
import type { AuthenticateError, Client, PublishPacket } from 'aedes'
import { HubError } from '../errors.ts'
import type { Clock } from '../model/clock.ts'
import { formatTopic } from '../wire/topic.ts'
import { listensToProbes, maySubscribe, refuseConnect, refusePublish } from './access.ts'
import { limitPackets, MAX_PACKET_BYTES } from './byte-limit.ts'
import { createStateKeeper } from './front.ts'
import type { Front, IngestLog } from './front.ts'
import { createFunnel } from './funnel.ts'
import type { Downlink, Ingest } from './ingest.ts'

export interface EmbeddedBrokerOptions {
  readonly host: string
  /** TCP port; 0 takes a free one. */
  readonly port: number
  readonly ingest: Ingest
  readonly clock: Clock
  readonly log: IngestLog
}

const CONNECT_TIMEOUT_MS = 10_000
/** CONNACK return code "identifier rejected" (MQTT 3.1.1, 3.2.2.3). */
const IDENTIFIER_REJECTED = 2
const HUB_STATE = formatTopic({ to: 'all', leaf: 'state' })

type Publish = (
  packet: PublishPacket,
  client: unknown,
  done: (error?: Error | null) => void,
) => void

/**
 * The hub's own MQTT 3.1.1 broker. A publish is held in the authorise step until its commit, so that the
 * probe's PUBACK says "on disk". Probes' retained descriptions and the hub's own messages are routed as
 * usual; readings only when somebody is subscribed to see them.
 *
 * @throws HubError HUB_PORT_IN_USE
 */
export async function openEmbeddedBroker(options: EmbeddedBrokerOptions): Promise<Front> {
  const { ingest, clock, log } = options
  const state = createStateKeeper({ state: 'up', problem: null }, clock)
  const users = new WeakMap<Client, string | null>()
  const listening = new Map<string, Set<string>>()
  const sockets = new Set<Socket>()
  const unrouted = new WeakSet<object>()
  const denied = new Set<string>()
  let stopping = false

  const broker = new Aedes({ connectTimeout: CONNECT_TIMEOUT_MS, concurrency: 1000 })
  const funnel = createFunnel({
    ingest: (batch) => ingest.ingest(batch),
    onDownlinks: (downlinks) => downlinks.forEach(send),
  })

  broker.authenticate = (client, username, _password, done) => {
    const user = username === undefined || username === '' ? null : username
    const reason = refuseConnect(client.id, user)
    if (reason === null) {
      users.set(client, user)
      done(null, true)
      return
    }
    log.warn(`${client.id}: not let in: ${reason}`)
    const error = new Error(reason) as AuthenticateError
    error.returnCode = IDENTIFIER_REJECTED
    done(error, false)
  }

  broker.authorizePublish = (client, packet, done) => {
    if (stopping) {
      done(new Error('the hub is stopping'))
      return
    }
    const user = client === null ? null : (users.get(client) ?? null)
    const refused = refusePublish(packet.topic, user)
    if (refused !== null) {
      // Closing the connection instead would make the probe come back with the same message for ever.
      unrouted.add(packet)
      const key = `${client?.id ?? ''} ${packet.topic}`
      if (!denied.has(key) && denied.size < 1000) {
        denied.add(key)
        log.warn(`${client?.id ?? 'a client'}: message kept in quarantine: ${refused}`)
      }
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
        payload: Buffer.isBuffer(packet.payload) ? packet.payload : Buffer.from(packet.payload),
        retain: false,
        arrivedAt: clock(),
        mayBeDelayed: false,
        ...(refused === null ? {} : { refused }),
      },
      done,
    )
  }

  broker.authorizeSubscribe = (client, subscription, done) => {
    const allowed = maySubscribe(subscription.topic, users.get(client) ?? null)
    if (!allowed) log.warn(`${client.id}: may not read ${subscription.topic}`)
    done(null, allowed ? subscription : null)
  }

  broker.on('subscribe', (subscriptions, client) => {
    for (const { topic, qos } of subscriptions) {
      // The event also names what was refused (0x80 in the SUBACK).
      if ((qos as number) > 2 || !listensToProbes(topic)) continue
      const filters = listening.get(client.id) ?? new Set()
      filters.add(topic)
      listening.set(client.id, filters)
    }
  })
  broker.on('unsubscribe', (topics, client) => {
    const filters = listening.get(client.id)
    for (const topic of topics) filters?.delete(topic)
    if (filters?.size === 0) listening.delete(client.id)
  })
  broker.on('clientDisconnect', (client) => {
    if (client.clean) listening.delete(client.id)
  })
  broker.on('clientError', (client, error) => {
    if (!stopping) log.info(`${client.id}: connection ended: ${error.message}`)
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

  const server = createServer((socket) => {
    sockets.add(socket)
    socket.on('close', () => sockets.delete(socket))
    socket.setNoDelay(true)
    const from = socket.remoteAddress ?? 'a client'
    limitPackets(socket, (bytes) => {
      log.warn(
        `${from}: connection ended: expected packets of at most ${MAX_PACKET_BYTES} bytes, ` +
          `got one of ${bytes} [LM-03]`,
      )
    })
    broker.handle(socket)
  })

  await new Promise<void>((resolve, reject) => {
    server.once('error', (cause: NodeJS.ErrnoException) => {
      broker.close()
      reject(portError(options, cause))
    })
    server.listen(options.port, options.host, resolve)
  })
  server.on('error', (error) => state.set('down', error.message))
  const { port } = server.address() as AddressInfo

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
    address: `mqtt://${options.host.includes(':') ? `[${options.host}]` : options.host}:${port}`,
    state: state.get,
    onState: state.onState,
    publish: (topic, payload, { retain }) => put(topic, payload, retain, 1),
    async stop() {
      if (stopping) return
      await put(HUB_STATE, '{"s":"off"}', true, 1)
      stopping = true
      // What is being committed is still acknowledged; what a store in trouble holds up is not.
      if (ingest.state().state === 'up') await funnel.idle()
      const closed = new Promise<void>((resolve) => server.close(() => resolve()))
      await new Promise<void>((resolve) => broker.close(resolve))
      for (const socket of sockets) socket.destroy()
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

function portError(options: EmbeddedBrokerOptions, cause: NodeJS.ErrnoException): HubError {
  const taken = cause.code === 'EADDRINUSE'
  return new HubError(
    'HUB_PORT_IN_USE',
    taken
      ? `port ${options.port} for MQTT is taken by another program (a broker, maybe); ` +
          'set LOAMLINE_MQTT_PORT to a free one, or LOAMLINE_BROKER_URL to use that broker'
      : `cannot listen for MQTT on ${options.host}:${options.port}: ${cause.message}`,
    { retry: false, cause },
  )
}

function unavailable(cause: Error): HubError {
  return new HubError('HUB_BROKER_UNAVAILABLE', `the broker did not take it: ${cause.message}`, {
    retry: true,
    cause,
  })
}
