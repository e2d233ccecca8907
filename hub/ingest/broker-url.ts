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
      `the broker's address: expected mqtt://host:port or mqtts://host:port, got ${JSON.stringify(withoutPassword(text))}`,
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
    username: decoded(url.username),
    password: decoded(url.password),
    serverName: isIP(host) === 0 ? host : null,
  }
}

/** An address as it may be shown: who calls and with which password is left out, however it is written. */
export function withoutPassword(address: string): string {
  const at = address.lastIndexOf('@')
  if (at < 0) return address
  const scheme = /^[a-z][a-z0-9+.-]*:\/\//i.exec(address)?.[0] ?? ''
  return `${scheme}…${address.slice(at)}`
}

/** A name or password out of an address; null for none. */
function decoded(text: string): string | null {
  if (text === '') return null
  try {
    return decodeURIComponent(text)
  } catch {
    throw new HubError(
      'HUB_CONFIG',
      "the broker's address: expected user name and password with % as %25, and other signs as % and two hexadecimal digits",
      { retry: false },
    )
  }
}
