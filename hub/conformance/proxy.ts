import { connect, createServer, type AddressInfo, type Socket } from 'node:net'
import { generate, parser, type Packet } from 'mqtt-packet'
import type { Clock } from '../model/clock.ts'
import { HubError } from '../errors.ts'
import { frames } from './frames.ts'
import { covers } from './filter.ts'
import type { Deed, Happening, Purpose, SeenPacket } from './record.ts'

export interface ProxyOptions {
  readonly listen: { readonly host: string; readonly port: number }
  readonly broker: { readonly host: string; readonly port: number }
  readonly clock: Clock
  /** Told of every happening, in order. */
  readonly onHappening: (happening: Happening) => void
  /** Told that the broker cannot be reached. */
  readonly onTrouble: (trouble: Error) => void
}

/** Stands between a probe and its broker. */
export interface Proxy {
  readonly port: number
  /** Closes the open link, in order. */
  cut(): void
  /** From now on every attempt is closed at once, or let in again. */
  refuse(refusing: boolean): void
  /** Nothing passes on the open link any more, and nobody is told. */
  blackHole(): void
  /** The broker's acknowledgements are kept from the probe, or passed on again. */
  withhold(withholding: boolean): void
  /** Sends to the probe as a broker would; false when it is not connected or has not subscribed to any topic. */
  send(topic: string, payload: string, options: { retain: boolean; purpose: Purpose }): boolean
  close(): Promise<void>
}

interface Link {
  readonly index: number
  readonly probe: Socket
  readonly broker: Socket
  readonly filters: Set<string>
  dark: boolean
  letIn: boolean
  closedBy: 'probe' | 'broker' | 'check' | null
}

/** CONNACK of MQTT 5: unsupported protocol version. */
const UNSUPPORTED_VERSION = 0x84

/**
 * A proxy for one probe that reads every packet and passes it on as it came. MQTT 5 is refused as a broker
 * would that speaks 3.1.1 only.
 *
 * @throws HubError HUB_PORT_IN_USE
 */
export async function openProxy(options: ProxyOptions): Promise<Proxy> {
  const { clock, onHappening, onTrouble } = options
  const links = new Set<Link>()
  let newest: Link | null = null
  let count = 0
  let refusing = false
  let withholding = false

  const deed = (what: Deed): void => onHappening({ kind: 'deed', at: clock(), deed: what })

  const fromProbe = (link: Link, bytes: Uint8Array, packet: Packet): void => {
    const seen = seenPacket(packet)
    onHappening({ kind: 'up', at: clock(), link: link.index, packet: seen })
    if (seen.cmd === 'connect' && seen.version === 5) {
      const answer = { cmd: 'connack', reasonCode: UNSUPPORTED_VERSION, sessionPresent: false }
      link.probe.write(generate(answer as Packet, { protocolVersion: 5 }))
      const refused: SeenPacket = { cmd: 'connack', code: UNSUPPORTED_VERSION }
      onHappening({ kind: 'down', at: clock(), link: link.index, packet: refused, purpose: null })
      end(link, 'check')
      return
    }
    if (seen.cmd === 'subscribe') for (const filter of seen.filters) link.filters.add(filter)
    if (!link.dark) link.broker.write(bytes)
  }
  const fromBroker = (link: Link, bytes: Uint8Array, packet: Packet): void => {
    if (link.dark) return
    const seen = seenPacket(packet)
    if (withholding && seen.cmd === 'publish' && seen.topic.endsWith('/dn/ack')) return
    if (seen.cmd === 'connack' && seen.code === 0) link.letIn = true
    // Before anybody hears of it: what the check adds comes after what the broker said.
    link.probe.write(bytes)
    onHappening({ kind: 'down', at: clock(), link: link.index, packet: seen, purpose: null })
  }
  const end = (link: Link, by: NonNullable<Link['closedBy']>): void => {
    link.closedBy ??= by
    link.probe.destroySoon()
    link.broker.destroy()
  }

  const server = createServer((probe) => {
    if (refusing) {
      onHappening({ kind: 'refused', at: clock() })
      probe.on('error', () => {})
      probe.destroy()
      return
    }
    probe.setNoDelay(true)
    const broker = connect(options.broker.port, options.broker.host)
    broker.setNoDelay(true)
    const link: Link = {
      index: count++,
      probe,
      broker,
      filters: new Set(),
      dark: false,
      letIn: false,
      closedBy: null,
    }
    links.add(link)
    newest = link
    onHappening({ kind: 'opened', at: clock(), link: link.index })
    read(
      probe,
      (bytes, packet) => fromProbe(link, bytes, packet),
      (bytes, why) => {
        onHappening({ kind: 'unreadable', at: clock(), link: link.index, bytes, why })
        end(link, 'check')
      },
    )
    read(
      broker,
      (bytes, packet) => fromBroker(link, bytes, packet),
      (_bytes, why) => {
        onTrouble(new Error(`the broker sent what is no MQTT: ${why}`))
        end(link, 'broker')
      },
    )
    probe.on('error', () => {})
    broker.on('error', (error) => {
      if (link.closedBy === null && !link.letIn) onTrouble(error)
    })
    probe.on('close', () => {
      link.closedBy ??= 'probe'
      links.delete(link)
      onHappening({ kind: 'closed', at: clock(), link: link.index, by: link.closedBy })
      // What the probe said last still reaches the broker.
      broker.end()
    })
    broker.on('close', () => {
      // In a black hole nobody hears of it.
      if (link.dark) return
      link.closedBy ??= 'broker'
      probe.destroySoon()
    })
  })
  await new Promise<void>((resolve, reject) => {
    server.once('error', (cause: NodeJS.ErrnoException) => reject(portError(options, cause)))
    server.listen(options.listen.port, options.listen.host, resolve)
  })

  return {
    port: (server.address() as AddressInfo).port,
    cut() {
      deed('cut')
      for (const link of links) end(link, 'check')
    },
    refuse(refuse) {
      refusing = refuse
      deed(refuse ? 'refuse' : 'let in')
    },
    blackHole() {
      deed('black hole')
      if (newest !== null) newest.dark = true
    },
    withhold(withhold) {
      withholding = withhold
      deed(withhold ? 'withhold' : 'release')
    },
    send(topic, payload, { retain, purpose }) {
      const link = newest
      if (link === null || link.dark || link.closedBy !== null || link.filters.size === 0)
        return false
      // What is meant for others is sent all the same: that is the trial.
      const foreign = purpose.startsWith('another probe')
      if (!foreign && !Array.from(link.filters).some((filter) => covers(filter, topic)))
        return false
      const packet: Packet = { cmd: 'publish', topic, payload, qos: 0, dup: false, retain }
      link.probe.write(generate(packet))
      const seen = seenPacket(packet)
      onHappening({ kind: 'down', at: clock(), link: link.index, packet: seen, purpose })
      return true
    },
    async close() {
      const closed = new Promise<void>((resolve) => server.close(() => resolve()))
      for (const link of links) {
        link.closedBy ??= 'check'
        link.probe.destroy()
        link.broker.destroy()
      }
      await closed
    },
  }
}

/** Reads packets off a socket; ends with `onBroken` at the first that cannot be read. */
function read(
  socket: Socket,
  onPacket: (bytes: Uint8Array, packet: Packet) => void,
  onBroken: (bytes: Uint8Array, why: string) => void,
): void {
  const split = frames()
  const reader = parser({ protocolVersion: 4 })
  let broken = false
  let now: Uint8Array = new Uint8Array(0)
  const fail = (error: Error): void => {
    if (broken) return
    broken = true
    onBroken(now, error.message)
  }
  reader.on('error', fail)
  reader.on('packet', (packet) => onPacket(now, packet))
  socket.on('data', (bytes: Buffer) => {
    if (broken) return
    now = bytes
    try {
      for (const frame of split.push(bytes)) {
        now = frame
        reader.parse(Buffer.from(frame))
      }
    } catch (error) {
      fail(error as Error)
    }
  })
}

function seenPacket(packet: Packet): SeenPacket {
  switch (packet.cmd) {
    case 'connect':
      return {
        cmd: 'connect',
        version: packet.protocolVersion ?? 4,
        clientId: packet.clientId,
        username: packet.username === undefined ? null : String(packet.username),
        password: packet.password ?? null,
        keepAliveS: packet.keepalive ?? 0,
        will: packet.will
          ? {
              topic: packet.will.topic,
              payload: Buffer.from(packet.will.payload as Buffer),
              retain: packet.will.retain ?? false,
            }
          : null,
      }
    case 'connack':
      return { cmd: 'connack', code: packet.returnCode ?? packet.reasonCode ?? 0 }
    case 'publish': {
      const { topic, qos, retain } = packet
      return { cmd: 'publish', topic, payload: Buffer.from(packet.payload as Buffer), qos, retain }
    }
    case 'subscribe':
      return { cmd: 'subscribe', filters: packet.subscriptions.map(({ topic }) => topic) }
    case 'suback':
    case 'disconnect':
      return { cmd: packet.cmd }
    case 'auth':
    case 'pingreq':
    case 'pingresp':
    case 'puback':
    case 'pubcomp':
    case 'pubrec':
    case 'pubrel':
    case 'unsuback':
    case 'unsubscribe':
      return { cmd: 'other', name: packet.cmd }
  }
}

function portError(options: ProxyOptions, cause: NodeJS.ErrnoException): HubError {
  const { host, port } = options.listen
  const message =
    cause.code === 'EADDRINUSE'
      ? `port ${port} is taken by another program; choose another one for the check`
      : `cannot listen on ${host}:${port}: ${cause.message}`
  return new HubError('HUB_PORT_IN_USE', message, { retry: false, cause })
}
