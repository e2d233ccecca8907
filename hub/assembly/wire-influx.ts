import type { Logger } from 'pino'
import type { HubTrouble } from '../alerts/hub-look.ts'
import type { Config } from '../config/settings.ts'
import { HubError } from '../errors.ts'
import type { ForwarderState } from '../store/influx/forwarder.ts'
import type { InfluxAuth, InfluxTarget } from '../store/influx/influx-client.ts'
import { say } from '../words/say.ts'

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

/** How it stands with the InfluxDB, as the store tells it. */
export function influxWatch(log: Pick<Logger, 'info' | 'warn'>) {
  let state: ForwarderState | null = null
  let tell = (): void => {}
  return {
    heard(now: ForwarderState): void {
      state = now
      if (now.problem === null) log.info('InfluxDB is back; what waited goes there')
      else log.warn(`readings are kept here until InfluxDB takes them: ${now.problem}`)
      tell()
    },
    /** Hears of every change from now on. */
    onChange(listener: () => void): void {
      tell = listener
    },
    troubles(): readonly HubTrouble[] {
      if (state === null || state.problem === null) return []
      const sentence = say`Readings do not get to InfluxDB; they are kept in the folder of the hub and wait: ${state.problem}`
      return [{ subject: 'influx', since: state.since, sentence }]
    },
  }
}
