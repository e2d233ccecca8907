import { HubError } from '../../errors.ts'
import type { Clock } from '../../model/clock.ts'
import type { Remote } from '../sqlite/remote.ts'
import type { WriterApi } from '../sqlite/reading-writer.ts'
import type { InfluxWorkerApi } from './influx-worker.ts'

/** Waits between two tries, ms: the first, and the longest; each doubles the one before. */
const FIRST_WAIT = 250
const LONGEST_WAIT = 15_000

export interface ForwarderState {
  readonly state: 'up' | 'down'
  /** Since when, epoch ms. */
  readonly since: number
  /** What went wrong, in a sentence; null while up. */
  readonly problem: string | null
}

export interface Forwarder {
  /** Something new may wait. */
  touch(): void
  state(): ForwarderState
  /** Resolves once the first try to begin has succeeded or failed; true: it succeeded. */
  firstTry(): Promise<boolean>
  /** Whether it has begun: what is there and what waits here are all the readings there are. */
  begun(): boolean
  /** Something else found the server away. */
  failed(error: HubError): void
  /** Runs `work` while nothing is being sent. */
  pause<T>(work: () => Promise<T>): Promise<T>
  /** Resolves once what is on its way has arrived or failed. */
  stop(): Promise<void>
}

/**
 * Sends what waits, oldest first, one batch after the other, for as long as there is any; when it fails, again and
 * again.
 *
 * @param options.begin what has to succeed before the first batch, and before the first after an outage
 */
export function startForwarder(options: {
  readonly writer: Pick<Remote<WriterApi>, 'call'>
  readonly influx: Pick<Remote<InfluxWorkerApi>, 'call'>
  readonly clock: Clock
  readonly begin: () => Promise<void>
  /** The name of the folder, known once `begin` has resolved. */
  readonly folder: () => string
  /** It went away, is away for another reason, or is back. */
  readonly onState: (state: ForwarderState) => void
  /** A mistake of ours. */
  readonly onFatal: (error: Error) => void
}): Forwarder {
  const { writer, influx, clock } = options
  let state: ForwarderState = { state: 'up', since: clock(), problem: null }
  let begun = false
  let stopped = false
  let wait = FIRST_WAIT
  let timer: NodeJS.Timeout | undefined
  let running: Promise<void> | null = null
  let again = false
  let paused: Promise<unknown> = Promise.resolve()
  let pauses = 0

  const tried = Promise.withResolvers<boolean>()

  const down = (error: HubError): void => {
    const news = state.state === 'up' || state.problem !== error.message
    const since = state.state === 'down' ? state.since : clock()
    state = { state: 'down', since, problem: error.message }
    if (news) options.onState(state)
  }
  const run = async (): Promise<void> => {
    try {
      // Also when it comes back: it may not hold any more what it held.
      if (!begun || state.state === 'down') await options.begin()
      begun = true
      tried.resolve(true)
      while (!stopped && pauses === 0) {
        again = false
        const delivery = await influx.call('forward', [options.folder(), clock()])
        if (delivery !== null) await writer.call('delivered', [delivery])
        wait = FIRST_WAIT
        if (state.state === 'down') {
          state = { state: 'up', since: clock(), problem: null }
          options.onState(state)
        }
        if (delivery === null && !again) return
      }
    } catch (error) {
      // What is closed under way is no trouble.
      if (stopped) return
      if (!(error instanceof HubError)) throw error
      down(error)
      tried.resolve(begun)
      timer = setTimeout(() => {
        timer = undefined
        touch()
      }, wait)
      wait = Math.min(wait * 2, LONGEST_WAIT)
    }
  }
  const touch = (): void => {
    again = true
    if (stopped || running !== null || timer !== undefined) return
    running = paused
      .then(run)
      .catch((error: unknown) => options.onFatal(error as Error))
      .finally(() => {
        running = null
        // Touched between its last look and its end.
        if (again && timer === undefined) touch()
      })
  }

  return {
    touch,
    state: () => state,
    firstTry: () => tried.promise,
    begun: () => begun,
    failed(error) {
      if (stopped) return
      down(error)
      // The loop finds out when it is back, also when nothing waits.
      touch()
    },
    async pause(work) {
      const before = paused
      const { promise, resolve } = Promise.withResolvers<void>()
      paused = promise
      pauses++
      try {
        await before
        await running
        return await work()
      } finally {
        pauses--
        resolve()
        touch()
      }
    },
    async stop() {
      stopped = true
      clearTimeout(timer)
      tried.resolve(begun)
      await running
    },
  }
}
