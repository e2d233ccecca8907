import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { pino, type Logger } from 'pino'
import type { ApiDeps, HubState } from './api/deps.ts'
import { createLiveFeed } from './api/live.ts'
import { healthNow } from './api/routes/health.ts'
import { createServer } from './api/server.ts'
import { viewOf } from './api/routes/beds.ts'
import { jobView } from './api/views/job.ts'
import type { Config } from './config/settings.ts'
import { createRetainedDelivery, type Publish } from './delivery/retained.ts'
import { HubError } from './errors.ts'
import { clockSetNote } from './assembly/clock-watch.ts'
import { hubFacts } from './assembly/hub-facts.ts'
import { startEvaluation } from './evaluation/start-evaluation.ts'
import { createBrokerFiles, hubAccount } from './ingest/broker-files.ts'
import { readBrokerUrl } from './ingest/broker-url.ts'
import type { Front } from './ingest/front.ts'
import type { Ingest } from './ingest/ingest.ts'
import { openProbePasswords } from './ingest/probe-passwords.ts'
import type { ServingRole } from './relay/open-serving-role.ts'
import type { Clock } from './model/clock.ts'
import type { Manner } from './model/manner.ts'
import { inManner } from './words/say.ts'
import { bringBack, clearBroughtBack } from './assembly/bring-back.ts'
import { backUpToSend } from './store/backup.ts'
import { openJobs } from './jobs/open-jobs.ts'
import { openStores } from './store/open.ts'
import { hubState } from './assembly/hub-state.ts'
import { version } from './assembly/version.ts'
import { probeAccess } from './assembly/wire-access.ts'
import { wireAccounts } from './assembly/wire-accounts.ts'
import { alarmTeller } from './assembly/wire-alarms.ts'
import { wireDelivery } from './assembly/wire-delivery.ts'
import { wireIngest } from './assembly/wire-ingest.ts'
import { influxTarget, influxWatch } from './assembly/wire-influx.ts'
import { wireStorage } from './assembly/wire-storage.ts'
import { embeddedAddress, pagesAddress } from './assembly/own-addresses.ts'
import { listen, openFront } from './assembly/wire-fronts.ts'
import { checkRole, wireServing } from './assembly/wire-relay.ts'
import { wireTls } from './assembly/wire-tls.ts'
import type { GardenStore } from './store/garden-store.ts'
import type { ReadingStore } from './store/reading-store.ts'

const HERE = import.meta.dirname
const DASHBOARD_DIR = join(HERE, '..', 'dashboard', 'dist')
/** Alarms of the past whose retained topic may still stand at a broker of one's own. */
const ALARMS_TO_SETTLE = 500

export interface HubOptions {
  readonly clock?: Clock
  readonly log?: Logger
  /** Marks the hub as the demo in its health. @default false */
  readonly demo?: boolean
  /** A mistake of ours in the background. @default ends the process */
  readonly onFatal?: (error: unknown) => void
}

export interface Hub {
  /** Where the dashboard is. */
  readonly url: string
  /** Where probes publish. */
  readonly brokerAddress: string
  /** The same over TLS; null where there is no such way. */
  readonly encryptedBrokerAddress: string | null
  readonly garden: GardenStore
  readonly readings: ReadingStore
  readonly ingest: Ingest
  /** Says that long work is under way; nothing is assessed until it is done (null). */
  loading(what: string | null, done?: number): void
  stop(): Promise<void>
}

const notUpYet = (): HubError =>
  new HubError('HUB_BROKER_UNAVAILABLE', 'the broker is not up yet', { retry: true })

/**
 * Puts the whole hub together and starts it. This file and `cli/` alone know every part.
 *
 * @throws HubError when the data folder, a port or the broker's settings cannot be used
 */
export async function openHub(config: Config, options: HubOptions = {}): Promise<Hub> {
  const clock = options.clock ?? Date.now
  const log = options.log ?? pino({ level: config.logLevel })
  const onFatal =
    options.onFatal ??
    ((error: unknown) => {
      log.fatal({ err: error }, 'a mistake in the hub itself; it ends here, what is stored is safe')
      process.exit(1)
    })
  const startedAt = clock()
  checkRole(config)
  const tls = wireTls(config, { clock, log })
  // Without user and password: it is shown to everybody.
  const target = config.brokerUrl === null ? null : readBrokerUrl(config.brokerUrl)
  const brokerAddress = target?.address ?? embeddedAddress(config)
  const files =
    config.brokerFiles === null
      ? null
      : createBrokerFiles(
          config.brokerFiles,
          await hubAccount(
            config.brokerUser ?? target?.username ?? null,
            config.brokerPassword ?? target?.password ?? null,
            config.brokerReaderPassword,
          ),
          (message) => log.warn(message),
        )

  const influx = influxWatch(log)
  const stores = await openStores(config.dataDir, {
    zone: config.zone,
    putAside: true,
    influx: influxTarget(config),
    onForwarding: (state) => influx.heard(state),
    clock,
    onDeath: onFatal,
    onTrouble: (error) => log.warn(error.message),
  })
  clearBroughtBack(config.dataDir)
  const { readings, garden, memory } = stores
  const passwords = await openProbePasswords(garden, clock, files).catch(async (error: unknown) => {
    files?.stop()
    await stores.close()
    throw error
  })
  const background = (work: Promise<unknown>): void => {
    work.catch((error: unknown) => {
      if (error instanceof HubError) log.warn(error.message)
      else onFatal(error)
    })
  }
  const wired = await wireAccounts({
    config,
    garden,
    clock,
    log,
    onTrouble: (error) => background(Promise.reject(error)),
  })
  const live = createLiveFeed()
  const jobs = openJobs({
    clock,
    onChange: (job) => live.send({ event: 'job', data: jobView(job) }),
    onFatal,
  })
  const storage = wireStorage({ ...stores, dataDir: config.dataDir, clock, jobs, log, onFatal })
  let manner: Manner = await garden.garden()
  let loading: HubState['loading'] = null
  let front: Front | undefined
  let serving: ServingRole | null = null

  const publish: Publish = async (topic, payload, how) => {
    if (front === undefined) throw notUpYet()
    await front.publish(topic, payload, how)
  }
  const retained = createRetainedDelivery(publish, (message) => log.warn(message))
  const { delivery, messages } = await wireDelivery({
    garden,
    clock,
    manner: () => manner,
    publish,
    brokerProblem: () => {
      if (front === undefined) return notUpYet().message
      const { state, problem } = front.state()
      return state === 'up' ? null : (problem ?? `the broker is ${state}`)
    },
    live,
    log,
    onFatal,
  })

  const intake = wireIngest({
    config,
    readings,
    garden,
    known: (await garden.probes()).map(({ id }) => id),
    clock,
    live,
    log,
    publish,
    setRetained: (topic, payload) => retained.set(topic, payload),
    background,
  })
  const { ingest, asking, limiter } = intake
  const tell = alarmTeller({ garden, retained, live, log })
  const evaluation = startEvaluation({
    manner: () => manner,
    hub: hubFacts({
      dataDir: config.dataDir,
      clock,
      broker: () => front?.state() ?? null,
      store: () => ingest.state(),
      intake: () => serving?.state() ?? null,
      setAside: () => stores.setAside(),
      damaged: () => stores.damaged(),
      onClockSet: (jump) => log.warn(clockSetNote(jump)),
      others: () => [...delivery.troubles(), ...influx.troubles(), ...tls.troubles()],
    }),
    readings,
    garden,
    memory,
    clock,
    onAssessed: (assessment) =>
      background(
        garden.bed(assessment.bedId).then(async (bed) => {
          if (bed !== null) live.send({ event: 'bed', data: await viewOf(api, bed) })
        }),
      ),
    onAlarms: (alarms) => {
      delivery.touch()
      background(tell(alarms, true))
    },
    onFatal,
  })

  const api = {
    readings,
    garden,
    memory,
    clock,
    watch: evaluation,
    backup: (options: Parameters<ApiDeps['backup']>[0]) =>
      backUpToSend(config.dataDir, { version: version(), now: clock(), ...options }),
    bringBack: (archive: Parameters<ApiDeps['bringBack']>[0]) =>
      bringBack(stores, archive, { room: config.dataDir, now: clock() }),
    live,
    jobs,
    accounts: wired.accounts,
    http: wired.http,
    access: probeAccess({ config, target, tls, passwords, limiter }),
    messages,
    orders: {
      command: (...args) => asking.command(...args),
      settings: (...args) => asking.settings(...args),
    } satisfies ApiDeps['orders'],
    manner: {
      now: () => manner,
      set(wanted: Manner): void {
        const same = wanted.language === manner.language && wanted.units === manner.units
        manner = { language: wanted.language, units: wanted.units }
        if (same) return
        evaluation.sayAnew()
        background(inManner(manner, async () => tell(await garden.openAlarms(), false)))
      },
    },
    hub: () =>
      hubState(config, {
        version: version(),
        startedAt,
        demo: options.demo ?? false,
        brokerAddress,
        front,
        serving,
        ingest,
        stores,
        loading,
      }),
  }

  const offSettled = readings.onSettled((settled) =>
    evaluation.touchProbes(settled.probes, settled.from),
  )

  const server = await createServer(api, {
    dashboardDir: existsSync(join(DASHBOARD_DIR, 'index.html')) ? DASHBOARD_DIR : null,
    log: (level, message) => log[level](message),
    ...(tls.http === null ? {} : { certificate: tls.http }),
  })

  const tellHealth = (): void =>
    background(healthNow(api).then((data) => live.send({ event: 'health', data })))

  let stopping = false
  async function stop(): Promise<void> {
    stopping = true
    storage.stop()
    await jobs.stop()
    offSettled()
    intake.quiet()
    files?.stop()
    const servingEnds = serving?.stop()
    await front?.stop()
    ingest.stop()
    await servingEnds
    retained.stop()
    await delivery.stop()
    await evaluation.stop()
    live.close()
    await server.close()
    wired.stop()
    tls.stop()
    await stores.close()
  }

  let opened: Front
  try {
    await listen(server, config)
    wired.warn()
    opened = await openFront(config, { ingest, clock, passwords, limiter, log }, tls)
    front = opened
    const { address } = opened
    influx.onChange(tellHealth)
    opened.onState((state) => {
      if (state.state === 'up') {
        log.info(`broker ${address} is up`)
        retained.resend()
        delivery.touch()
      } else if (!stopping) {
        log.warn(`broker ${address} is ${state.state}: ${state.problem ?? 'no reason given'}`)
      }
      tellHealth()
    })
    serving = await wireServing(config, {
      ingest,
      publish: ({ topic, payload, retain }) => publish(topic, payload, { retain }),
      hub: messages.hubId,
      clock,
      log,
      onFatal,
    })
    serving?.onState(tellHealth)
    // What ended while the hub or the broker was away must not go on standing there.
    await asking.stand()
    const alarms = [...(await garden.alarms(ALARMS_TO_SETTLE)), ...(await garden.openAlarms())]
    await inManner(manner, () => tell(alarms, false))
  } catch (error) {
    await stop()
    throw error
  }

  return {
    url: pagesAddress(config),
    brokerAddress: opened.address,
    encryptedBrokerAddress: opened.encryptedAddress,
    garden,
    readings,
    ingest,
    loading(what, done = 0) {
      loading = what === null ? null : { what, done }
      if (what === null) evaluation.release()
      else evaluation.hold()
      tellHealth()
    },
    stop,
  }
}
