import { HubError } from '../errors.ts'
import { createStateKeeper } from '../ingest/front.ts'
import type { IngestLog } from '../ingest/front.ts'
import type { Arrival, Ingest } from '../ingest/ingest.ts'
import type { Clock } from '../model/clock.ts'
import type { SpoolStore, TakenMessage } from '../store/spool-store.ts'
import { HUB_LIMIT_BYTES } from '../wire/payload.ts'
import { wait } from './wait.ts'

export interface TakingOptions {
  readonly spool: Pick<SpoolStore, 'append'>
  readonly clock: Clock
  readonly log: IngestLog
  /** Called after each commit, with the number of messages in it. */
  readonly onKept: (messages: number) => void
  /**
   * Waits between attempts while the spool cannot be written, ms; the last one repeats.
   * @default [100, 300, 1000, 3000, 10000]
   */
  readonly retryMs?: readonly number[]
}

/** Topic levels are short; a topic beyond this is no probe's. */
const TOPIC_LIMIT = 1024

/**
 * What an ingest process does with messages: nothing but keep them. They are confirmed to the broker once
 * they are in the spool; nothing in them is read here.
 */
export function createTaking(
  options: TakingOptions,
): Pick<Ingest, 'ingest' | 'state' | 'onState' | 'stop'> {
  const { spool, clock, log } = options
  const retryMs = options.retryMs ?? [100, 300, 1000, 3000, 10_000]
  const state = createStateKeeper({ state: 'up', problem: null }, clock)
  const stopping = new AbortController()

  return {
    async ingest(batch) {
      const messages = batch.map(fitting)
      for (let attempt = 0; ; attempt++) {
        try {
          await spool.append(messages)
          break
        } catch (error) {
          if (!(error instanceof HubError)) throw error
          if (state.get().state === 'up') {
            const what = error.retry ? 'wait at the broker until it is' : 'are not taken any more'
            log.warn(`${error.message} The spool is not kept; messages ${what}`)
          }
          state.set('down', error.message)
          if (!error.retry) throw error
          const ms = retryMs[Math.min(attempt, retryMs.length - 1)] ?? 1000
          if (!(await wait(ms, stopping.signal))) throw error
        }
      }
      if (state.get().state !== 'up') log.info('the spool takes messages again')
      state.set('up', null)
      options.onKept(batch.length)
      return []
    },
    state: state.get,
    onState: state.onState,
    stop: () => stopping.abort(),
  }
}

/** As it came, but for what no probe may send: of that the beginning is kept, and why. */
function fitting(arrival: Arrival): TakenMessage {
  const { topic, payload, arrivedAt, mayBeDelayed, retain } = arrival
  const tooLong =
    payload.length > HUB_LIMIT_BYTES
      ? `payload: expected at most ${HUB_LIMIT_BYTES} bytes, got ${payload.length} [LM-03]`
      : topic.length > TOPIC_LIMIT
        ? `topic: expected at most ${TOPIC_LIMIT} characters, got ${topic.length} [LM-30]`
        : undefined
  const refused = arrival.refused ?? tooLong
  return {
    topic: topic.slice(0, TOPIC_LIMIT).toWellFormed(),
    payload: payload.subarray(0, HUB_LIMIT_BYTES),
    arrivedAt: Math.round(arrivedAt),
    mayBeDelayed,
    retain,
    ...(refused === undefined ? {} : { refused }),
  }
}
