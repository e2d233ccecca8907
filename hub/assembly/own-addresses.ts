import type { Config } from '../config/settings.ts'
import { callableHost, urlHost } from '../model/address.ts'

/** Where the pages and the API of a hub with these settings are, as a program on this machine reaches them. */
export function pagesAddress({
  httpHost,
  httpPort,
  httpCertificate,
}: Pick<Config, 'httpHost' | 'httpPort' | 'httpCertificate'>): string {
  const scheme = httpCertificate === null ? 'http' : 'https'
  return `${scheme}://${urlHost(callableHost(httpHost))}:${httpPort}`
}

/** Where the built-in broker will be. */
export function embeddedAddress({
  mqttHost,
  mqttPort,
  mqttTlsPort,
  mqttPlain,
}: Pick<Config, 'mqttHost' | 'mqttPort' | 'mqttTlsPort' | 'mqttPlain'>): string {
  return mqttPlain === 'no'
    ? `mqtts://${urlHost(mqttHost)}:${mqttTlsPort}`
    : `mqtt://${urlHost(mqttHost)}:${mqttPort}`
}
