import { HubError } from '../errors.ts'
import type { Clock } from '../model/clock.ts'
import { MINUTE, SECOND } from '../model/clock.ts'
import { HUB_STATE, openConnection, PROBE_TOPICS, SESSION_EXPIRY_S } from './broker-connection.ts'
import type { BrokerConnection } from './broker-connection.ts'
import { readBrokerUrl } from './broker-url.ts'
import { createStateKeeper } from './front.ts'
import type { Front, IngestLog } from './front.ts'
import { createFunnel, SECOND_FROM } from './funnel.ts'
import type { Ingest } from './ingest.ts'
import type { RateLimiter } from './rate-limiter.ts'

export interface ExternalBrokerOptions {
  /** `mqtt://host[:1883]` or, encrypted, `mqtts://host[:8883]`. */
  readonly url: string
  readonly username?: string
  readonly password?: string
  /** File with the certificates of who vouches for the broker, PEM. @default those this machine trusts */
  readonly caFile?: string
  /**
   * Names the session the broker keeps for the hub; two hubs on one broker need two.
   * @default 'loamline-hub'
   */
  readonly clientId?: string
  /** What is listened to. @default all that probes send */
  readonly topics?: readonly string[]
  /** What an earlier session of that name may have listened to, and this one does not. @default nothing */
  readonly unwanted?: readonly string[]
  /** Where this program says, retained, that it is there. @default the hub's state */
  readonly presence?: string
  /** How long the broker keeps messages while this program is away, s. @default 30 days */
  readonly sessionExpiryS?: number
  /** Only MQTT 5 will do. @default 3.1.1 is gone on with */
  readonly needsVersion5?: boolean
  /** How soon a broker that says nothing any more is noticed, s. @default 60 */
  readonly keepAliveS?: number
  readonly ingest: Pick<Ingest, 'ingest' | 'state' | 'takesTwo' | 'knows'>
  readonly clock: Clock
  readonly log: IngestLog
  /** @default every probe sends as much as it likes */
  readonly limiter?: RateLimiter
}

const BACK_OFF_FIRST_MS = 500
const BACK_OFF_LAST_MS = 30 * SECOND
/** A broker that hangs up so often within this time, and takes the hub back each time, prefers somebody else. */
const THROWN_OUT_TIMES = 3
const THROWN_OUT_WITHIN_MS = MINUTE
/** A shorter absence cannot have held a reading back for longer than is tolerated anyway. */
const SHORT_ABSENCE_MS = 2 * MINUTE

/**
 * Listens at somebody else's MQTT broker. Each message is acknowledged to the broker only after its commit,
 * so what the hub had not stored when it died comes again. Returns at once; while the broker is away the
 * state says so and attempts go on.
 *
 * @throws HubError HUB_CONFIG when the address cannot be used
 */
export async function openExternalBroker(options: ExternalBrokerOptions): Promise<Front> {
  const { ingest, clock, log, limiter } = options
  const target = readBrokerUrl(options.url)
  const clientId = options.clientId ?? 'loamline-hub'
  const state = createStateKeeper({ state: 'connecting', problem: null }, clock)
  const funnel = createFunnel({
    ingest: (batch) => ingest.ingest(batch),
    ...(ingest.takesTwo === true ? { secondFrom: SECOND_FROM } : {}),
    // What cannot go out now is said again at the probe's next sign of life.
    onDownlinks: (downlinks) => connection?.send(downlinks),
  })
  let connection: BrokerConnection | null = null
  let stopping = false
  let backOffMs = BACK_OFF_FIRST_MS
  let timer: NodeJS.Timeout | undefined
  let version: 5 | 4 = 5
  let lastHeardAt: number | null = null
  /** When the broker hung up without a reason, the last few times, epoch ms. */
  let thrownOut: readonly number[] = []

  /** A probe the garden knows counts by its name; any other name is free for the asking, each with another account. */
  function admit(topic: string, bytes: number, heldBack: boolean): boolean {
    if (limiter === undefined) return true
    const [, owner = '', , leaf] = topic.split('/')
    if (ingest.knows?.(owner) ?? true) return heldBack || limiter.admit(owner, leaf, bytes)
    return limiter.admitUnknown(target.address, bytes, 'broker')
  }

  function connect(): void {
    const opened = openConnection({
      target,
      caFile: options.caFile ?? null,
      version,
      clientId,
      username: options.username ?? target.username,
      password: options.password ?? target.password,
      topics: options.topics ?? PROBE_TOPICS,
      unwanted: options.unwanted ?? [],
      presence: options.presence ?? HUB_STATE,
      sessionExpiryS: options.sessionExpiryS ?? SESSION_EXPIRY_S,
      funnel,
      clock,
      ...(options.keepAliveS === undefined ? {} : { keepAliveS: options.keepAliveS }),
      wasAwayLong: lastHeardAt === null || clock() - lastHeardAt > SHORT_ABSENCE_MS,
      admit,
      onUp() {
        backOffMs = BACK_OFF_FIRST_MS
        state.set('up', null)
      },
      onProblem(problem) {
        state.set('down', problem)
      },
      onClosed(closed) {
        connection = null
        lastHeardAt = closed.lastHeardAt ?? lastHeardAt
        if (stopping) return
        const fixed = options.needsVersion5 === true
        if (closed.refusedVersion && version === 5 && !fixed) {
          version = 4
          log.info(`broker ${target.address} does not speak MQTT 5: going on with 3.1.1`)
          connect()
          return
        }
        if (closed.hungUp && !fixed) version = version === 5 ? 4 : 5
        const now = clock()
        if (closed.thrownOut) thrownOut = [...thrownOut, now].slice(-THROWN_OUT_TIMES)
        const thrownOutAgain =
          closed.thrownOut &&
          thrownOut.length === THROWN_OUT_TIMES &&
          now - thrownOut[0]! < THROWN_OUT_WITHIN_MS
        state.set('down', problemOf(closed.problem, closed.refusedVersion && fixed, thrownOutAgain))
        // Two programs under one name would go on throwing each other out.
        if (closed.takenOver || thrownOutAgain) backOffMs = BACK_OFF_LAST_MS
        // Spread the attempts, so that several hubs do not come back at the same moment.
        timer = setTimeout(connect, backOffMs * (0.8 + 0.4 * Math.random()))
        backOffMs = Math.min(backOffMs * 2, BACK_OFF_LAST_MS)
      },
    })
    connection = opened
  }

  function problemOf(problem: string, wrongVersion: boolean, thrownOutAgain: boolean): string {
    if (wrongVersion)
      return `broker ${target.address} does not speak MQTT 5, without which ingest processes cannot share`
    return thrownOutAgain
      ? `${problem} again and again. Does another program sign in there as ${clientId}? Each needs a ` +
          'LOAMLINE_BROKER_CLIENT_ID of its own'
      : problem
  }

  connect()

  return {
    kind: 'external',
    address: target.address,
    encryptedAddress: target.encrypted ? target.address : null,
    state: state.get,
    onState: state.onState,
    async publish(topic, payload, { retain }) {
      if (connection === null) {
        const why = state.get().problem ?? 'not connected yet'
        throw new HubError('HUB_BROKER_UNAVAILABLE', `broker ${target.address}: ${why}`, {
          retry: true,
        })
      }
      await connection.publish(topic, payload, { retain, qos: 1 })
    },
    async stop() {
      if (stopping) return
      stopping = true
      clearTimeout(timer)
      const last = connection
      last?.pause()
      // What is being committed is still acknowledged; the rest comes again after the next start.
      if (ingest.state().state === 'up') await funnel.idle()
      funnel.drop()
      await last?.end()
      state.set('down', 'the hub has stopped')
    },
  }
}
