import { flushCompileCache } from 'node:module'
import { loadConfig } from '../config/load.ts'
import type { Config } from '../config/settings.ts'
import { version } from '../assembly/version.ts'
import { openIngestProcess } from '../assembly/wire-relay.ts'
import type { Hub, openHub } from '../hub.ts'
import { openLog } from './log.ts'
import type { CommandContext } from './main.ts'
import { shownAddress } from './shown-address.ts'

/**
 * Ends the hub cleanly on Ctrl-C or a stop from the system; a second signal ends it at once. Asked for before what is
 * to be stopped has started: a signal that comes meanwhile is not a kill.
 */
export function stopOnSignal(stop: () => Promise<void>): void {
  let stopping = false
  for (const signal of ['SIGINT', 'SIGTERM'] as const) {
    process.on(signal, () => {
      if (stopping) process.exit(1)
      stopping = true
      stop().then(
        () => process.exit(0),
        (error: unknown) => {
          console.error(error)
          process.exit(1)
        },
      )
    })
  }
}

/** The lines a person at the terminal needs. */
export function announce(
  hub: Pick<Hub, 'url' | 'brokerAddress' | 'encryptedBrokerAddress'>,
  lines: readonly string[] = [],
): void {
  for (const line of [
    '',
    `  Dashboard   ${hub.url}`,
    `  Probes      ${shownAddress(hub.brokerAddress)}`,
    ...(hub.encryptedBrokerAddress === null || hub.encryptedBrokerAddress === hub.brokerAddress
      ? []
      : [`              ${shownAddress(hub.encryptedBrokerAddress)}, encrypted`]),
    ...lines.map((l) => `  ${l}`),
    '',
  ]) {
    console.log(line)
  }
}

/** Starts one of several processes that only take readings in. */
async function startIngest(config: Config): Promise<void> {
  const log = openLog(config.logLevel)
  const opening = openIngestProcess(config, {
    version: version(),
    clock: Date.now,
    log,
    onFatal(error) {
      log.fatal(
        { err: error },
        'a mistake in this process itself; it ends here, what is stored is safe',
      )
      process.exit(1)
    },
  })
  stopOnSignal(async () => (await opening).stop())
  const ingest = await opening
  for (const line of [
    '',
    `  Takes in    ${config.brokerClientId} of the group ${config.ingestGroup}, from ${ingest.brokerAddress}`,
    `  Health      ${ingest.url}`,
    `  Spool       ${config.dataDir}`,
    '  Stop with Ctrl-C.',
    '',
  ]) {
    console.log(line)
  }
}

/** An ingest process does without the pages and the analysis. */
async function loadHub(): Promise<typeof openHub> {
  const hub = await import('../hub.ts')
  flushCompileCache()
  return hub.openHub
}

/** Starts the hub on the gardener's own data and runs until it is told to stop. */
export async function start({ env, configFile }: CommandContext): Promise<void> {
  const { config } = loadConfig(env, configFile)
  if (config.role === 'ingest') return startIngest(config)
  const opening = loadHub().then((openHub) => openHub(config, { log: openLog(config.logLevel) }))
  stopOnSignal(async () => (await opening).stop())
  const hub = await opening
  announce(hub, [`Data        ${config.dataDir}`, 'Stop with Ctrl-C.'])
}
