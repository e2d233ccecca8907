import { createHash } from 'node:crypto'
import { statSync } from 'node:fs'
import { join, resolve } from 'node:path'
import type { Logger } from 'pino'
import { answersTo, ownNames } from '../accounts/places.ts'
import type { Config } from '../config/settings.ts'
import { HubError } from '../errors.ts'
import { diskOf } from './hub-facts.ts'
import type { IngestLog } from '../ingest/front.ts'
import { createRateLimiter } from '../ingest/rate-limiter.ts'
import { callableHost, urlHost } from '../model/address.ts'
import type { Clock } from '../model/clock.ts'
import { serveHealth } from '../relay/ingest-health.ts'
import { openIngestRole } from '../relay/open-ingest-role.ts'
import {
  openServingRole,
  type ServingRoleOptions,
  type ServingRole,
} from '../relay/open-serving-role.ts'
import { openInfluxClient } from '../store/influx/influx-client.ts'
import { openIntakeLog } from '../store/influx/intake-log.ts'
import type { IntakeLog } from '../store/intake-log.ts'
import { keepPrivate } from '../store/keep-private.ts'
import { openOrBegin } from '../store/open-or-begin.ts'
import { makeFolder } from '../store/open.ts'
import { lockFolder } from '../store/sqlite/lock-folder.ts'
import { openCursorStore } from '../store/sqlite/open-cursor-store.ts'
import { openSpoolStore } from '../store/sqlite/open-spool-store.ts'
import { PROBE_ID } from '../wire/topic.ts'
import { influxTarget } from './wire-influx.ts'
import { checkBroker } from './wire-tls.ts'

const bad = (message: string): HubError => new HubError('HUB_CONFIG', message, { retry: false })

/** @throws HubError HUB_CONFIG when a role lacks what it cannot do without */
export function checkRole(config: Config): void {
  const { role, brokerUrl, brokerClientId } = config
  if (role === 'all') return
  if (brokerUrl === null)
    throw bad(
      `LOAMLINE_ROLE=${role}: expected LOAMLINE_BROKER_URL beside it, a broker that speaks MQTT 5 such as ` +
        'mosquitto; the built-in one cannot share messages among processes',
    )
  if (influxTarget(config) === null)
    throw bad(
      `LOAMLINE_ROLE=${role}: expected LOAMLINE_INFLUX_URL beside it, the InfluxDB through which processes hand ` +
        'readings over',
    )
  // An id that a probe could have would let that probe take the session over.
  if (role === 'ingest' && (brokerClientId === DEFAULT_CLIENT_ID || PROBE_ID.test(brokerClientId)))
    throw bad(
      'LOAMLINE_ROLE=ingest: expected a LOAMLINE_BROKER_CLIENT_ID that no probe can have, such as ingest-1, another ' +
        'for each ingest process and the same whenever it starts: under it the broker keeps what comes while it is ' +
        `away; got ${brokerClientId}`,
    )
}
const DEFAULT_CLIENT_ID = 'loamline-hub'

function intakeLogOf(config: Config): IntakeLog {
  const target = influxTarget(config)!
  // A database of its own, with the retention it is made with: its times are numbers, which would all be too old.
  return openIntakeLog(
    openInfluxClient({ ...target, database: config.intakeDatabase, retention: null }),
  )
}

/** An ingest process as a whole. */
export interface IngestProcess {
  /** Where its health is told. */
  readonly url: string
  /** The broker it listens at. */
  readonly brokerAddress: string
  stop(): Promise<void>
}

/**
 * Puts an ingest process together and starts it.
 *
 * @throws HubError when a setting, the data folder or a port cannot be used
 */
export async function openIngestProcess(
  config: Config,
  options: {
    readonly version: string
    readonly clock: Clock
    readonly log: Logger
    readonly onFatal: (error: unknown) => void
  },
): Promise<IngestProcess> {
  checkRole(config)
  const { clock, log, onFatal, version } = options
  const url = config.brokerUrl!
  checkBroker(config, log)
  const folder = resolve(config.dataDir)
  makeFolder(folder)
  const letGo = lockFolder(folder)
  const close: (() => Promise<void> | void)[] = [letGo]
  const stop = async (): Promise<void> => {
    for (const end of close.splice(0).reverse()) await end()
  }
  try {
    // What it held and had not handed on, probes send again: only the serving hub's word lets them forget it.
    const spool = await openOrBegin(
      folder,
      'spool.db',
      (file) => openSpoolStore(file, { onDeath: onFatal }),
      { putAside: true, onTrouble: ({ message }) => log.warn(message) },
    )
    const readable = keepPrivate(join(folder, 'spool.db'))
    if (readable !== null) log.warn(readable)
    const role = await openIngestRole({
      spool,
      intake: intakeLogOf(config),
      broker: brokerOf(config, url),
      clientId: config.brokerClientId,
      group: config.ingestGroup,
      limiter: createRateLimiter({
        clock,
        scale: config.probeLimit,
        onNotice: (probe) =>
          log.warn(`${probe}: sends more than it may; what is too much is counted and not taken`),
      }),
      clock,
      log: plain(log),
    })
    close.push(() => role.stop())
    const health = await serveHealth({
      host: config.httpHost,
      port: config.httpPort,
      role,
      version,
      clientId: config.brokerClientId,
      clock,
      freeBytes: async () => (await diskOf(folder))?.freeBytes ?? null,
      answersTo: (host) => answersTo(host, ownNames(config)),
      onTrouble(error) {
        if (error instanceof HubError) log.warn(error.message)
        else onFatal(error)
      },
    })
    close.push(() => health.stop())
    return {
      url: `http://${urlHost(callableHost(config.httpHost))}:${config.httpPort}/api/health`,
      brokerAddress: role.address,
      stop,
    }
  } catch (error) {
    await stop()
    throw error
  }
}

const brokerOf = (config: Config, url: string) => ({
  url,
  ...(config.brokerUser === null ? {} : { username: config.brokerUser }),
  ...(config.brokerPassword === null ? {} : { password: config.brokerPassword }),
  ...(config.brokerCa === null ? {} : { caFile: config.brokerCa }),
})

const plain = (log: Logger): IngestLog => ({
  warn: (message) => log.warn(message),
  info: (message) => log.info(message),
})

/** What ingest processes took, for a serving hub; null for a hub that takes readings itself. */
export async function wireServing(
  config: Config,
  parts: Pick<ServingRoleOptions, 'ingest' | 'publish' | 'clock' | 'hub'> & {
    readonly log: Logger
    readonly onFatal: (error: unknown) => void
  },
): Promise<ServingRole | null> {
  if (config.role !== 'serve') return null
  const folder = resolve(config.dataDir)
  // Readings that were lost, put aside or put back from a copy: what the logs still hold is taken once more.
  const { ino, birthtimeMs } = statSync(join(folder, 'readings.db'))
  const readings = `${ino} ${birthtimeMs}`
  const cursors = await openOrBegin(
    folder,
    'cursors.db',
    (file) => openCursorStore(file, readings, { onDeath: parts.onFatal }),
    { putAside: true, onTrouble: ({ message }) => parts.log.warn(message) },
  )
  return openServingRole({
    ...parts,
    // A copy of this folder is another hub, though it goes by the same id; the same one again may go on at once.
    hub: createHash('sha256').update(`${parts.hub} ${readings}`).digest('hex').slice(0, 16),
    cursors,
    intake: intakeLogOf(config),
    keepDays: config.intakeKeepDays,
    log: plain(parts.log),
  })
}
