import { isIP } from 'node:net'
import { HubError } from '../errors.ts'

export interface BrokerTarget {
  readonly host: string
  readonly port: number
  readonly encrypted: boolean
  /** For the eye: without user and password. */
  readonly address: string
  readonly username: string | null
  readonly password: string | null
  /** Name the certificate must carry; null when the host is a bare IP address. */
  readonly serverName: string | null
}

/**
 * Reads the address of a broker.
 * @throws HubError HUB_CONFIG
 */
export function readBrokerUrl(text: string): BrokerTarget {
  const url = URL.canParse(text) ? new URL(text) : null
  const encrypted = url?.protocol === 'mqtts:'
  if (url === null || (!encrypted && url.protocol !== 'mqtt:') || url.hostname === '') {
    throw new HubError(
      'HUB_CONFIG',
      `the broker's address: expected mqtt://host:port or mqtts://host:port, got ${JSON.stringify(text)}`,
      { retry: false },
    )
  }
  const host = url.hostname.replace(/^\[(.*)\]$/, '$1')
  const port = url.port === '' ? (encrypted ? 8883 : 1883) : Number(url.port)
  return {
    host,
    port,
    encrypted,
    address: `${url.protocol}//${url.hostname}:${port}`,
    username: url.username === '' ? null : decodeURIComponent(url.username),
    password: url.password === '' ? null : decodeURIComponent(url.password),
    serverName: isIP(host) === 0 ? host : null,
  }
}
