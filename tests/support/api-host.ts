import type { FastifyInstance } from 'fastify'
import { openAccounts } from '#hub/accounts/open-accounts.ts'
import type { ApiDeps } from '#hub/api/deps.ts'
import { createLiveFeed } from '#hub/api/live.ts'
import type { LiveEvent } from '#hub/api/schemas/live.ts'
import { createServer } from '#hub/api/server.ts'
import type { Language } from '#hub/model/language.ts'
import type { Manner, Units } from '#hub/model/manner.ts'
import { openProbePasswords } from '#hub/ingest/probe-passwords.ts'
import { createOrders } from '#hub/ingest/orders.ts'
import { createProbeAsking } from '#hub/ingest/probe-asking.ts'
import { startEvaluation, type Evaluation } from '#hub/evaluation/start-evaluation.ts'
import type { Alarm } from '#hub/model/alarm.ts'
import { bringBack } from '#hub/assembly/bring-back.ts'
import { backUpToSend } from '#hub/store/backup.ts'
import { openJobs } from '#hub/jobs/open-jobs.ts'
import { jobView } from '#hub/api/views/job.ts'
import { openStores } from '#hub/store/open.ts'
import { tempDir } from './temp-dir.ts'

export interface ApiHost extends AsyncDisposable {
  readonly dataDir: string
  readonly app: FastifyInstance
  readonly deps: ApiDeps
  readonly evaluation: Evaluation
  /** Everything sent to open pages so far. */
  readonly events: readonly LiveEvent[]
  readonly alarms: readonly Alarm[]
  /** What was sent to probes and what stands retained for them, by topic. */
  readonly sent: { readonly topic: string; readonly payload: string; readonly retain: boolean }[]
  /** Sets the clock, epoch ms. */
  setTime(at: number): void
  call(
    method: 'GET' | 'POST' | 'PUT' | 'DELETE',
    url: string,
    body?: unknown,
  ): Promise<{ status: number; body: unknown; type: string }>
}

/**
 * The API on real stores in a folder of its own, without a socket; time stands until it is set.
 *
 * @param language what it is said in; may change while the host runs
 * @param units how amounts are told; may change too
 */
export async function apiHost(
  now: number,
  language = (): Language => 'en',
  units = (): Units => 'metric',
): Promise<ApiHost> {
  const spoken = (): Manner => ({ language: language(), units: units() })
  const dir = tempDir()
  const stores = await openStores(dir.path, { zone: 'Europe/Lisbon' })
  const live = createLiveFeed()
  const events: LiveEvent[] = []
  const alarms: Alarm[] = []
  let time = now
  const clock = (): number => time
  const evaluation = startEvaluation({
    ...stores,
    clock,
    manner: spoken,
    restMs: 0,
    onAssessed: () => undefined,
    onAlarms: (changed) => alarms.push(...changed),
    onFatal: (error) => {
      throw error
    },
  })
  const offSettled = stores.readings.onSettled((settled) =>
    evaluation.touchProbes(settled.probes, settled.from),
  )
  const passwords = await openProbePasswords(stores.garden, clock, null)
  const sent: { topic: string; payload: string; retain: boolean }[] = []
  const accounts = await openAccounts({
    store: stores.garden,
    clock,
    onTrouble: (error) => {
      throw error
    },
  })
  const deps: ApiDeps = {
    accounts,
    http: { beyond: false, names: ['loamline.test'], proxyHeader: 'x-forwarded-for', hstsS: 0 },
    readings: stores.readings,
    garden: stores.garden,
    memory: stores.memory,
    clock,
    watch: evaluation,
    manner: { now: spoken, set: () => undefined },
    bringBack: (archive) => bringBack(stores, archive, { room: dir.path, now: time }),
    backup: (options) => backUpToSend(dir.path, { version: '0.0.0', now: time, ...options }),
    jobs: openJobs({
      clock,
      onChange: (job) => events.push({ event: 'job', data: jobView(job) }),
      onFatal: (error) => {
        throw error
      },
    }),
    access: {
      of: (probe) => ({
        password: passwords.state(probe),
        since: passwords.since(probe),
        wrongAt: passwords.wrongAt(probe),
        overLimit: null,
      }),
      make: (probe) => passwords.make(probe),
      revoke: (probe) => passwords.revoke(probe),
      broker: {
        host: null,
        everyAddress: true,
        port: 1883,
        encrypted: false,
        plainPort: 1883,
        keySha256: () => null,
      },
    },
    messages: {
      touch: () => undefined,
      test: async () => null,
      retry: async () => undefined,
      pushKey: 'a key',
      hubId: '7a5d1c2e-4b6f-4e0a-9c8d-0123456789ab',
    },
    orders: createProbeAsking({
      orders: createOrders(stores.garden),
      garden: stores.garden,
      clock,
      setRetained: (topic, payload) => sent.push({ topic, payload, retain: true }),
      publish: async (topic, payload) => {
        sent.push({ topic, payload, retain: false })
      },
      onTrouble: () => undefined,
    }),
    live: {
      ...live,
      send: (event) => {
        events.push(event)
        live.send(event)
      },
    },
    hub: () => ({
      version: '0.0.0',
      startedAt: now,
      broker: {
        kind: 'embedded',
        state: 'up',
        address: 'mqtt://127.0.0.1:1883',
        since: now,
        problem: null,
      },
      intake: { problem: null },
      demo: false,
      loading: null,
    }),
  }
  const app = await createServer(deps, { dashboardDir: null, log: () => undefined })
  return {
    dataDir: dir.path,
    app,
    deps,
    evaluation,
    events,
    alarms,
    sent,
    setTime: (at) => {
      time = at
    },
    async call(method, url, body) {
      const response = await app.inject({
        method,
        url,
        ...(body === undefined ? {} : { payload: body as object }),
      })
      return {
        status: response.statusCode,
        body: response.body === '' ? null : (JSON.parse(response.body) as unknown),
        type: String(response.headers['content-type'] ?? ''),
      }
    },
    async [Symbol.asyncDispose]() {
      offSettled()
      accounts.stop()
      await evaluation.stop()
      live.close()
      await app.close()
      await stores.close()
      dir[Symbol.dispose]()
    },
  }
}
