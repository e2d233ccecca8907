import type { FastifyInstance } from 'fastify'
import type { Logger } from 'pino'
import type { ProbeAccess } from '../api/deps.ts'
import type { Config } from '../config/settings.ts'
import { HubError } from '../errors.ts'
import type { BrokerTarget } from '../ingest/broker-url.ts'
import { openEmbeddedBroker, type EmbeddedBrokerOptions } from '../ingest/embedded-broker.ts'
import { PROBE_TOPICS } from '../ingest/broker-connection.ts'
import { openExternalBroker } from '../ingest/external-broker.ts'
import type { Front } from '../ingest/front.ts'
import { urlHost } from '../model/address.ts'
import { servedTopics } from '../relay/shared-topics.ts'
import type { WiredTls } from './wire-tls.ts'

/** The HTTP side starts to listen; rejects with HUB_PORT_IN_USE. */
export async function listen(server: FastifyInstance, config: Config): Promise<void> {
  await server.listen({ host: config.httpHost, port: config.httpPort }).catch((cause: unknown) => {
    const taken = (cause as NodeJS.ErrnoException).code === 'EADDRINUSE'
    throw new HubError(
      'HUB_PORT_IN_USE',
      taken
        ? `port ${config.httpPort} is taken by another program; set LOAMLINE_HTTP_PORT to a free one`
        : `cannot listen on ${urlHost(config.httpHost)}:${config.httpPort}: ${String(cause)}`,
      { retry: false, cause },
    )
  })
}

/** Ports at which probes find the broker: the encrypted one first, where there is one known to the hub. */
export function brokerPorts(
  config: Config,
  target: BrokerTarget | null,
  tls: WiredTls,
): Omit<ProbeAccess['broker'], 'host' | 'everyAddress'> {
  const certificate = tls.mqtt
  if (target !== null) {
    const port = config.probesPort ?? target.port
    const plainPort = target.encrypted ? null : port
    // Whose certificate a broker of one's own shows is known where it has it from the hub.
    if (certificate === null || config.brokerFiles === null)
      return { port, encrypted: target.encrypted, plainPort, keySha256: () => null }
    return {
      port: target.encrypted ? port : config.mqttTlsPort,
      encrypted: true,
      plainPort: config.mqttPlain === 'yes' ? plainPort : null,
      keySha256: () => certificate.facts().keySha256,
    }
  }
  const port = certificate === null ? config.mqttPort : config.mqttTlsPort
  const plainPort = config.mqttPlain === 'yes' ? config.mqttPort : null
  return {
    port: config.probesPort ?? port,
    encrypted: certificate !== null,
    plainPort: plainPort === port ? (config.probesPort ?? port) : plainPort,
    keySha256: () => certificate?.facts().keySha256 ?? null,
  }
}

/** The MQTT side: the hub's own broker, or a subscriber at the one that is set. */
export async function openFront(
  config: Config,
  parts: Required<Pick<EmbeddedBrokerOptions, 'ingest' | 'clock' | 'passwords' | 'limiter'>> & {
    readonly log: Logger
  },
  tls: WiredTls,
): Promise<Front> {
  const { ingest, clock, passwords, limiter } = parts
  const log = {
    warn: (message: string): void => parts.log.warn(message),
    info: (message: string): void => parts.log.info(message),
  }
  if (config.brokerUrl === null) {
    return openEmbeddedBroker({
      host: config.mqttHost,
      port: config.mqttPort,
      plain: config.mqttPlain,
      ...(tls.mqtt === null
        ? {}
        : { encrypted: { port: config.mqttTlsPort, certificate: tls.mqtt } }),
      ingest,
      clock,
      passwords,
      strangers: config.strangers,
      limiter,
      log,
    })
  }
  return openExternalBroker({
    url: config.brokerUrl,
    ...(config.brokerUser === null ? {} : { username: config.brokerUser }),
    ...(config.brokerPassword === null ? {} : { password: config.brokerPassword }),
    ...(config.brokerCa === null ? {} : { caFile: config.brokerCa }),
    clientId: config.brokerClientId,
    ...(config.role === 'serve' ? { topics: servedTopics, unwanted: PROBE_TOPICS } : {}),
    ingest,
    clock,
    limiter,
    log,
  })
}
