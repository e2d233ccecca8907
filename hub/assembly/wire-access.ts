import { isIP } from 'node:net'
import type { ProbeAccess } from '../api/deps.ts'
import type { Config } from '../config/settings.ts'
import type { BrokerTarget } from '../ingest/broker-url.ts'
import { isEverywhere } from '../model/address.ts'
import type { ProbePasswords } from '../ingest/probe-passwords.ts'
import type { RateLimiter } from '../ingest/rate-limiter.ts'
import { brokerPorts } from './wire-fronts.ts'
import type { WiredTls } from './wire-tls.ts'

/**
 * Where probes find the broker. A bare name of one's own broker, such as that of a container, is taken for one that
 * only the hub can resolve.
 */
export function brokerPlace(
  config: Config,
  target: BrokerTarget | null,
  tls: WiredTls,
): ProbeAccess['broker'] {
  const { probesHost, mqttHost } = config
  const everyAddress = target === null && isEverywhere(mqttHost)
  const known = target === null ? !everyAddress : isIP(target.host) !== 0 || /\./.test(target.host)
  return {
    ...brokerPorts(config, target, tls),
    host: probesHost ?? (known ? (target?.host ?? mqttHost) : null),
    everyAddress,
  }
}

/** How a probe comes in: its password, and where the broker is. */
export function probeAccess(options: {
  readonly config: Config
  /** A broker of one's own; null: the built-in one. */
  readonly target: BrokerTarget | null
  readonly tls: WiredTls
  readonly passwords: ProbePasswords
  readonly limiter: RateLimiter
}): ProbeAccess {
  const { config, target, tls, passwords, limiter } = options
  return {
    of: (probe) => ({
      password: passwords.state(probe),
      since: passwords.since(probe),
      wrongAt: passwords.wrongAt(probe),
      overLimit: limiter.notice(probe),
    }),
    make: (probe) => passwords.make(probe),
    revoke: (probe) => passwords.revoke(probe),
    broker: brokerPlace(config, target, tls),
  }
}
