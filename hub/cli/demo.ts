import { existsSync } from 'node:fs'
import { rm } from 'node:fs/promises'
import { createServer } from 'node:net'
import { join } from 'node:path'
import { loadConfig, type LoadedConfig } from '../config/load.ts'
import type { Config } from '../config/settings.ts'
import { plantDemo } from '../demo/garden.ts'
import { loadHistory } from '../demo/history.ts'
import { runLiveProbes } from '../demo/live.ts'
import { openHub } from '../hub.ts'
import { demoScenario } from '../simulator/demo-scenario.ts'
import { lockFolder } from '../store/sqlite/lock-folder.ts'
import { openLog } from './log.ts'
import type { CommandContext } from './main.ts'
import { announce, stopOnSignal } from './start.ts'

const SEED = 20260
/** How many further ports are tried when the usual one is taken and nobody asked for it. */
const PORTS_TO_TRY = 20

function isFree(host: string, port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const server = createServer()
    server.once('error', () => resolve(false))
    server.listen(port, host, () => server.close(() => resolve(true)))
  })
}

/** A newcomer may have a broker or a page on the usual port already: the demo steps aside and says so. */
async function stepAside(
  { config, given }: LoadedConfig,
  key: 'httpPort' | 'mqttPort',
  host: string,
): Promise<number> {
  const wanted = config[key]
  if (given.has(key)) return wanted
  for (let port = wanted; port < wanted + PORTS_TO_TRY; port += 1) {
    if (await isFree(host, port)) return port
  }
  return wanted
}

/**
 * Deletes the data of an earlier demo.
 *
 * @throws HubError HUB_STORE_LOCKED while that demo still runs
 */
async function throwAway(dataDir: string): Promise<void> {
  // A lock that can be had is let go at once: nobody else starts a demo here within the same moment.
  if (existsSync(dataDir)) lockFolder(dataDir)()
  await rm(dataDir, { recursive: true, force: true })
}

/** Starts the hub on an invented garden: history first, then live simulated probes over real MQTT. */
export async function demo({ env, configFile }: CommandContext): Promise<void> {
  const loaded = loadConfig(env, configFile)
  const dataDir = join(loaded.config.dataDir, 'demo')
  const config: Config = {
    ...loaded.config,
    dataDir,
    brokerUrl: null,
    // An invented garden has no business in an InfluxDB that keeps a real one.
    influxUrl: null,
    // Its own probes are on this machine and do not encrypt.
    mqttPlain: loaded.config.mqttPlain === 'no' ? 'local' : loaded.config.mqttPlain,
    role: 'all',
    httpPort: await stepAside(loaded, 'httpPort', loaded.config.httpHost),
    mqttPort: await stepAside(loaded, 'mqttPort', loaded.config.mqttHost),
  }
  await throwAway(dataDir)
  const log = openLog(config.logLevel)
  const hub = await openHub(config, { log, demo: true })
  hub.loading('demo history', 0)
  const probes: { stop(): Promise<void> }[] = []
  let stopping = false
  stopOnSignal(async () => {
    stopping = true
    await Promise.all(probes.map((p) => p.stop()))
    await hub.stop()
  })
  announce(hub, ['The demo garden is being made; its data are thrown away at the next demo.'])

  const now = Date.now()
  const scenario = demoScenario({ seed: SEED, now })
  try {
    await plantDemo(hub.garden, scenario, now)
    await loadHistory({
      ingest: (batch) => hub.ingest.ingest(batch),
      scenario,
      now,
      onProgress: (done) => hub.loading('demo history', done),
    })
    await hub.readings.settle()
    hub.loading(null)
  } catch (error) {
    // Told to stop half-way: the stores close under the loading.
    if (stopping) return
    throw error
  }
  probes.push(
    runLiveProbes({
      url: hub.brokerAddress,
      scenario,
      clock: Date.now,
      eventDelayMs: config.demoEventAfterS * 1000,
    }),
  )
  log.info(
    `18 months of history loaded in ${Math.round((Date.now() - now) / 1000)} s; live probes are publishing, ` +
      `one bed will shift in about ${config.demoEventAfterS} s`,
  )
}
