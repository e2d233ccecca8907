import { createServer as createPlain } from 'node:net'
import type { AddressInfo, Server, Socket } from 'node:net'
import { createServer as createEncrypted } from 'node:tls'
import { HubError } from '../errors.ts'
import { urlHost } from '../model/address.ts'
import type { LiveCertificate } from '../model/certificate.ts'
import { limitPackets, MAX_PACKET_BYTES } from './byte-limit.ts'
import type { IngestLog } from './front.ts'
import { tlsRefusal } from './tls-wording.ts'

export interface MqttListenerOptions {
  readonly host: string
  /** TCP port; 0 takes a free one. */
  readonly port: number
  /** Setting to tell when the port is taken. */
  readonly setting: string
  /** Null: unencrypted. */
  readonly certificate: LiveCertificate | null
  readonly log: IngestLog
  readonly onSocket: (socket: Socket) => void
  readonly onError: (error: Error) => void
}

export interface MqttListener {
  readonly port: number
  /** Takes no more connections; resolves when those there are have ended. */
  close(): Promise<void>
  /** Ends those there are. */
  hangUp(): void
}

/** A client that stalls in the handshake holds a connection for nothing; small boards take seconds for it. */
const HANDSHAKE_TIMEOUT_MS = 20_000
/** Clients at once, let in or not; further ones are hung up on. */
const MOST_CONNECTIONS = 20_000
/** Different refusals that are told in the log. */
const REFUSALS_TOLD = 100

/**
 * Takes MQTT connections at one port, encrypted or not, each with the limit on the size of packets.
 *
 * @throws HubError HUB_PORT_IN_USE
 */
export async function listenMqtt(options: MqttListenerOptions): Promise<MqttListener> {
  const { certificate, log } = options
  const sockets = new Set<Socket>()
  const told = new Set<string>()

  function take(socket: Socket): void {
    socket.setNoDelay(true)
    const from = socket.remoteAddress ?? 'a client'
    limitPackets(socket, (bytes) => {
      log.warn(
        `${from}: connection ended: expected packets of at most ${MAX_PACKET_BYTES} bytes, ` +
          `got one of ${bytes} [LM-03]`,
      )
    })
    options.onSocket(socket)
  }

  const server = certificate === null ? createPlain(take) : encrypted(certificate)
  server.maxConnections = MOST_CONNECTIONS
  // Also those whose handshake is not over: they would hold up the end.
  server.on('connection', (socket: Socket) => {
    sockets.add(socket)
    socket.on('close', () => sockets.delete(socket))
  })

  function refused(error: NodeJS.ErrnoException, from = 'a client'): void {
    const line = `${from}: not let in at the encrypted port: ${tlsRefusal(error)}`
    if (told.has(line) || told.size >= REFUSALS_TOLD) return
    told.add(line)
    log.info(line)
  }

  function encrypted(pair: LiveCertificate): Server {
    const tls = createEncrypted(
      { ...pair.now(), minVersion: 'TLSv1.2', handshakeTimeout: HANDSHAKE_TIMEOUT_MS },
      (socket) => {
        const from = socket.remoteAddress
        socket.on('error', (error: NodeJS.ErrnoException) => {
          // TLS 1.3: a client that does not trust the hub says so after the hub is through.
          if (error.code?.startsWith('ERR_SSL_') === true) refused(error, from)
          socket.destroy()
        })
        take(socket)
      },
    )
    tls.on('tlsClientError', (error, socket) => refused(error, socket.remoteAddress))
    const off = pair.onRenewed((renewed) => {
      tls.setSecureContext({ ...renewed, minVersion: 'TLSv1.2' })
    })
    tls.on('close', off)
    return tls
  }

  await new Promise<void>((resolve, reject) => {
    server.once('error', (cause: NodeJS.ErrnoException) => reject(portError(options, cause)))
    server.listen(options.port, options.host, resolve)
  })
  server.removeAllListeners('error')
  server.on('error', options.onError)
  return {
    port: (server.address() as AddressInfo).port,
    close: () => new Promise((resolve) => server.close(() => resolve())),
    hangUp() {
      for (const socket of sockets) socket.destroy()
    },
  }
}

function portError({ host, port, setting }: MqttListenerOptions, cause: Error): HubError {
  const taken = (cause as NodeJS.ErrnoException).code === 'EADDRINUSE'
  return new HubError(
    'HUB_PORT_IN_USE',
    taken
      ? `port ${port} for MQTT is taken by another program (a broker, maybe); ` +
          `set ${setting} to a free one, or LOAMLINE_BROKER_URL to use that broker`
      : `cannot listen for MQTT on ${urlHost(host)}:${port}: ${cause.message}`,
    { retry: false, cause },
  )
}
