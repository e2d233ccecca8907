import type { FastifyInstance } from 'fastify'
import type { Logger } from 'pino'
import type { Config } from './config/settings.ts'
import { HubError } from './errors.ts'
import { openEmbeddedBroker, type EmbeddedBrokerOptions } from './ingest/embedded-broker.ts'
import { openExternalBroker } from './ingest/external-broker.ts'
import type { Front } from './ingest/front.ts'

/** The HTTP side starts to listen; rejects with HUB_PORT_IN_USE. */
export async function listen(server: FastifyInstance, config: Config): Promise<void> {
  await server.listen({ host: config.httpHost, port: config.httpPort }).catch((cause: unknown) => {
    const taken = (cause as NodeJS.ErrnoException).code === 'EADDRINUSE'
    throw new HubError(
      'HUB_PORT_IN_USE',
      taken
        ? `port ${config.httpPort} is taken by another program; set LOAMLINE_HTTP_PORT to a free one`
        : `cannot listen on ${config.httpHost}:${config.httpPort}: ${String(cause)}`,
      { retry: false, cause },
    )
  })
}

/** The MQTT side: the hub's own broker, or a subscriber at the one that is set. */
export async function openFront(
  config: Config,
  parts: Required<Pick<EmbeddedBrokerOptions, 'ingest' | 'clock' | 'passwords' | 'limiter'>> & {
    readonly log: Logger
  },
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
    clientId: config.brokerClientId,
    ingest,
    clock,
    limiter,
    log,
  })
}
