import type { Config } from './config/settings.ts'
import { HubError } from './errors.ts'
import type { InfluxAuth, InfluxTarget } from './store/influx/influx-client.ts'

const bad = (message: string): HubError => new HubError('HUB_CONFIG', message, { retry: false })

/**
 * The InfluxDB that is set, and as whom the hub goes there; null when none is.
 *
 * @throws HubError HUB_CONFIG when it is not clear as whom
 */
export function influxTarget(config: Config): InfluxTarget | null {
  const { influxUrl, influxDatabase, influxRetention } = config
  if (influxUrl === null) return null
  return {
    url: influxUrl,
    database: influxDatabase,
    retention: influxRetention,
    auth: authOf(config),
  }
}

function authOf({ influxToken, influxUser, influxPassword }: Config): InfluxAuth {
  if (influxToken !== null) {
    if (influxUser !== null) {
      throw bad('LOAMLINE_INFLUX_USER: expected nothing beside LOAMLINE_INFLUX_TOKEN, got both')
    }
    return { kind: 'token', token: influxToken }
  }
  if (influxUser === null && influxPassword === null) return { kind: 'none' }
  if (influxUser === null || influxPassword === null) {
    throw bad('LOAMLINE_INFLUX_USER and LOAMLINE_INFLUX_PASSWORD: expected both, got one')
  }
  return { kind: 'basic', user: influxUser, password: influxPassword }
}
