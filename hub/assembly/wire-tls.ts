import { X509Certificate } from 'node:crypto'
import { readFileSync } from 'node:fs'
import type { Logger } from 'pino'
import { watchCertificate, type WatchedCertificate } from '../certificates/watch-certificate.ts'
import type { Config } from '../config/settings.ts'
import { HubError } from '../errors.ts'
import { isLoopback } from '../accounts/places.ts'
import type { HubTrouble } from '../alerts/hub-look.ts'
import { keepBrokerCertificate } from '../ingest/broker-certificate.ts'
import { readBrokerUrl } from '../ingest/broker-url.ts'
import type { Clock } from '../model/clock.ts'
import { dayText } from '../words/figure.ts'
import { say } from '../words/say.ts'

export interface WiredTls {
  /** Null: HTTP without encryption. */
  readonly http: WatchedCertificate | null
  /** For the built-in broker, or for the one of one's own that gets its files from the hub; null: none. */
  readonly mqtt: WatchedCertificate | null
  /** Certificates that should have been renewed by now. */
  troubles(): readonly HubTrouble[]
  stop(): void
}

const refuse = (message: string, cause?: unknown): HubError =>
  new HubError('HUB_CONFIG', message, { retry: false, cause })

/** A certificate and its key, of which one without the other is a slip. */
function pairOf(
  certificate: { readonly file: string | null; readonly setting: string },
  key: { readonly file: string | null; readonly setting: string },
  rest: { readonly clock: Clock; readonly log: Logger },
): WatchedCertificate | null {
  const log = {
    warn: (message: string): void => rest.log.warn(message),
    info: (message: string): void => rest.log.info(message),
  }
  if (certificate.file === null && key.file === null) return null
  if (certificate.file === null || key.file === null) {
    const missing = certificate.file === null ? certificate.setting : key.setting
    throw refuse(`${missing}: expected a file, as the other half of the pair is set, got none`)
  }
  const files = {
    certificate: { file: certificate.file, setting: certificate.setting },
    key: { file: key.file, setting: key.setting },
  }
  return watchCertificate({ files, clock: rest.clock, log })
}

/** @throws HubError HUB_CONFIG when the file cannot serve to check a broker by */
function checkCa(file: string): void {
  try {
    void new X509Certificate(readFileSync(file))
  } catch (cause) {
    const { message } = cause as Error
    throw refuse(
      `LOAMLINE_BROKER_CA: expected a file with certificates in PEM, got ${file}: ${message}`,
      cause,
    )
  }
}

/**
 * Whether the way to a broker of one's own can be meant.
 *
 * @throws HubError HUB_CONFIG
 */
export function checkBroker(config: Config, log: Logger): void {
  if (config.brokerUrl === null) return
  const { encrypted, host, password } = readBrokerUrl(config.brokerUrl)
  if (config.brokerCa !== null) {
    if (!encrypted) {
      throw refuse('LOAMLINE_BROKER_CA: expected a LOAMLINE_BROKER_URL of mqtts://, got mqtt://')
    }
    checkCa(config.brokerCa)
  }
  if (!encrypted && (config.brokerPassword ?? password) !== null && !isLoopback(host)) {
    log.warn(
      `the hub's password goes to the broker ${host} without encryption; mqtts:// encrypts it`,
    )
  }
}

/**
 * Certificates of the hub, and whether what is set about encryption can be meant.
 *
 * @throws HubError HUB_CONFIG
 */
export function wireTls(config: Config, rest: { clock: Clock; log: Logger }): WiredTls {
  checkBroker(config, rest.log)
  const http = pairOf(
    { file: config.httpCertificate, setting: 'LOAMLINE_HTTP_CERTIFICATE' },
    { file: config.httpKey, setting: 'LOAMLINE_HTTP_KEY' },
    rest,
  )
  let mqtt: WatchedCertificate | null = null
  try {
    mqtt = pairOf(
      { file: config.mqttCertificate, setting: 'LOAMLINE_MQTT_CERTIFICATE' },
      { file: config.mqttKey, setting: 'LOAMLINE_MQTT_KEY' },
      rest,
    )
    if (config.mqttPlain === 'no' && mqtt === null && config.brokerUrl === null) {
      throw refuse(
        'LOAMLINE_MQTT_PLAIN: expected LOAMLINE_MQTT_CERTIFICATE with no, or no probe could come in, got none',
      )
    }
  } catch (error) {
    http?.stop()
    throw error
  }
  const handed =
    mqtt === null || config.brokerUrl === null || config.brokerFiles === null
      ? null
      : keepBrokerCertificate({
          folder: config.brokerFiles,
          certificate: mqtt,
          onTrouble: (message) => rest.log.warn(message),
        })
  return {
    http,
    mqtt,
    troubles() {
      const now = rest.clock()
      const [first] = [http, mqtt]
        .flatMap((certificate) => (certificate === null ? [] : [certificate.facts()]))
        .filter(({ dueAt }) => now >= dueAt)
        .toSorted((a, b) => a.to - b.to)
      if (first === undefined) return []
      const day = dayText(first.to, 'UTC')
      const sentence =
        now < first.to
          ? say`The certificate of the hub ends on ${day} and has not been renewed.`
          : say`The certificate of the hub ended on ${day}: browsers warn of it, and probes that check it do not come in.`
      return [{ subject: 'certificate', since: first.dueAt, sentence }]
    },
    stop() {
      handed?.stop()
      http?.stop()
      mqtt?.stop()
    },
  }
}
