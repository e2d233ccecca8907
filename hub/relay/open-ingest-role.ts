import { readBrokerUrl } from '../ingest/broker-url.ts'
import { openExternalBroker } from '../ingest/external-broker.ts'
import type { ExternalBrokerOptions } from '../ingest/external-broker.ts'
import type { FrontState, IngestLog } from '../ingest/front.ts'
import type { RateLimiter } from '../ingest/rate-limiter.ts'
import type { Clock } from '../model/clock.ts'
import type { IntakeLog } from '../store/intake-log.ts'
import type { SpoolStore } from '../store/spool-store.ts'
import { startForwarding } from './forwarding.ts'
import type { ForwardingOptions, ForwardingState } from './forwarding.ts'
import { presenceOf, sharedTopics } from './shared-topics.ts'
import { createTaking } from './taking.ts'

export interface IngestRoleOptions {
  readonly spool: SpoolStore
  readonly intake: IntakeLog
  readonly broker: Pick<ExternalBrokerOptions, 'url' | 'username' | 'password' | 'caFile'>
  /** Names its session at the broker and its log: another for each process, the same over restarts. */
  readonly clientId: string
  /** Ingest processes of one group share the messages of all probes. */
  readonly group: string
  readonly limiter: RateLimiter
  readonly clock: Clock
  readonly log: IngestLog
  readonly forwarding?: Pick<ForwardingOptions, 'backOffMs' | 'lookEveryMs'>
}

/** How an ingest process is. */
export interface IngestRoleState {
  readonly broker: FrontState
  /** Down while the spool cannot be written. */
  readonly taking: FrontState
  readonly forwarding: ForwardingState
  /** Messages kept since the start. */
  readonly kept: number
}

export interface IngestRole {
  /** The broker's address as a person would write it. */
  readonly address: string
  state(): Promise<IngestRoleState>
  stop(): Promise<void>
}

/** The session never ends by itself: what the broker holds for this process comes to it whenever it is back. */
const NEVER_S = 0xffff_ffff

function passwordOf({ url, password }: IngestRoleOptions['broker']): string | null {
  return password ?? readBrokerUrl(url).password
}

/**
 * A session listens on to what it was told in an earlier life: to another group, whose readings it would be dealt as
 * well. Notes what it is about to listen to, before it does, and resolves to what it has to be told to leave.
 */
async function noteTopics(
  spool: SpoolStore,
  topics: readonly string[],
): Promise<readonly string[]> {
  const known = await spool.listening()
  await spool.setListening([...known, ...topics])
  return known.filter((topic) => !topics.includes(topic))
}

/**
 * One of several processes that take readings from the broker: into the spool, then confirmed to the broker,
 * then on into the log that the serving hub reads.
 *
 * @throws HubError HUB_CONFIG when the broker's address cannot be used
 */
export async function openIngestRole(options: IngestRoleOptions): Promise<IngestRole> {
  const { spool, intake, clientId, limiter, clock, log } = options
  const topics = sharedTopics(options.group, passwordOf(options.broker))
  const unwanted = await noteTopics(spool, topics)
  let kept = 0
  const forwarding = startForwarding({
    writer: clientId,
    spool,
    intake,
    clock,
    log,
    ...options.forwarding,
  })
  const taking = createTaking({
    spool,
    clock,
    log,
    onKept(messages) {
      kept += messages
      forwarding.touch()
    },
  })
  const offTaking = taking.onState(({ state }) => limiter.storeIs(state))
  const front = await openExternalBroker({
    ...options.broker,
    clientId,
    topics,
    unwanted,
    presence: presenceOf(clientId),
    sessionExpiryS: NEVER_S,
    needsVersion5: true,
    ingest: taking,
    clock,
    log,
    limiter,
  })
  front.onState(({ state, problem }) => {
    if (state === 'up') {
      log.info(`broker ${front.address} is up`)
      // From here on the session listens to nothing else. Noted too late, it is only told so once more.
      if (unwanted.length > 0) spool.setListening(topics).catch(() => {})
    } else log.warn(`broker ${front.address} is ${state}: ${problem ?? 'no reason given'}`)
  })

  return {
    address: front.address,
    async state() {
      return {
        broker: front.state(),
        taking: taking.state(),
        forwarding: await forwarding.state(),
        kept,
      }
    },
    async stop() {
      await front.stop()
      offTaking()
      taking.stop()
      await forwarding.stop()
      await spool.close()
    },
  }
}
