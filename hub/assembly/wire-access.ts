import type { ProbeAccess } from '../api/deps.ts'
import type { Config } from '../config/settings.ts'
import type { BrokerTarget } from '../ingest/broker-url.ts'
import type { ProbePasswords } from '../ingest/probe-passwords.ts'
import type { RateLimiter } from '../ingest/rate-limiter.ts'
import { brokerPorts } from './wire-fronts.ts'
import type { WiredTls } from './wire-tls.ts'

/** Listening on every address of the machine. */
const isWildcard = (host: string): boolean => host === '0.0.0.0' || host === '::'

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
    broker: {
      host: target?.host ?? (isWildcard(config.mqttHost) ? null : config.mqttHost),
      ...brokerPorts(config, target, tls),
    },
  }
}
