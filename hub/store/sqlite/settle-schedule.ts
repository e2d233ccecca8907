import { setImmediate as nextTurn } from 'node:timers/promises'
import { HubError } from '../../errors.ts'

/** When settling runs. Times in ms, `BACKLOG` in readings. */
const IDLE = 120
const LATEST = 1000
/** While many readings come, a run costs less for each the more of them it takes. */
const MANY = 2000
const LATEST_OF_MANY = 4000
const BACKLOG = 100_000
const RETRY = 2000
/** Settling by itself may take about one part in six of the thread. */
const REST = 5

export interface SettleSchedule {
  /** Tells that the log grew to row `last`, by so many readings. */
  readonly grew: (last: number, readings?: number) => void
  /**
   * Resolves once everything up to the newest row known is settled. Rejects with what a slice threw, and
   * with HUB_STORE_UNAVAILABLE when held or stopped before.
   */
  readonly settle: () => Promise<void>
  /** From here on no slice begins, a run that is planned or under way included, until `release`. */
  readonly hold: () => void
  readonly release: () => void
  readonly held: () => boolean
  /** Nothing new is begun; resolves when the slice under way is over. */
  readonly stop: () => Promise<void>
}

/**
 * Runs `slice` (one bounded piece of work; answers the row reached, or null when nothing is left) soon
 * after the log went quiet, at the latest a second after it grew, and at once when much waits. Between
 * slices other messages of the thread get their turn.
 *
 * `trouble` hears of a slice that failed on its own account and is tried again later; when it throws, so
 * does the thread.
 */
export function settleSchedule(options: {
  /** Last row already settled. */
  readonly settled: number
  /** Nothing is settled before `release`. */
  readonly held: boolean
  readonly slice: () => number | null
  /** After a run. */
  readonly done: () => void
  readonly trouble: (error: unknown) => void
}): SettleSchedule {
  let known = options.settled
  let settled = options.settled
  let timer: NodeJS.Timeout | null = null
  let running: Promise<void> | null = null
  let firstWaiting = 0
  let readingsWaiting = 0
  let restUntil = 0
  let retryAt = 0
  let { held } = options
  let stopped = false

  const run = async (): Promise<void> => {
    const start = performance.now()
    try {
      while (settled < known && !held && !stopped) {
        settled = options.slice() ?? known
        retryAt = 0
        if (performance.now() - start > LATEST) break
        if (settled < known) await nextTurn()
      }
    } catch (error) {
      retryAt = performance.now() + RETRY
      throw error
    } finally {
      options.done()
      if (settled >= known) readingsWaiting = 0
      const end = performance.now()
      restUntil = end + REST * (end - start)
      firstWaiting = 0
    }
  }
  // Forgotten from outside: a run that needs no turn of its own is over before it is remembered. Planned
  // only then: rows that came between the end of the run and its being forgotten are not left lying.
  const runOnce = (): Promise<void> =>
    (running ??= run().finally(() => {
      running = null
      plan()
    }))

  const plan = (): void => {
    if (held || stopped || settled >= known) return
    const now = performance.now()
    if (firstWaiting === 0) firstWaiting = now
    const crowded = readingsWaiting > BACKLOG
    const latest = readingsWaiting > MANY ? LATEST_OF_MANY : LATEST
    const wait = crowded
      ? 0
      : Math.max(0, Math.min(Math.max(IDLE, restUntil - now), firstWaiting + latest - now))
    if (timer !== null) clearTimeout(timer)
    timer = setTimeout(
      () => {
        timer = null
        runOnce().catch(options.trouble)
      },
      Math.max(wait, retryAt - now),
    )
  }

  return {
    grew(last, readings = last - known) {
      if (last <= known) return
      known = last
      readingsWaiting += readings
      if (running === null) plan()
    },
    async settle() {
      const goal = known
      while (settled < goal && !held && !stopped) await runOnce()
      if (held && !stopped) {
        throw new HubError(
          'HUB_STORE_UNAVAILABLE',
          'What the InfluxDB holds is not known yet; until then readings are taken and wait.',
          { retry: true },
        )
      }
      if (settled >= goal) return
      throw new HubError(
        'HUB_STORE_UNAVAILABLE',
        'The store was closed before everything in it was settled; the rest is when it opens again.',
        { retry: false },
      )
    },
    hold() {
      held = true
    },
    release() {
      held = false
      if (running === null) plan()
    },
    held: () => held,
    async stop() {
      stopped = true
      if (timer !== null) clearTimeout(timer)
      // Whoever waits for the run hears of its failure.
      await running?.catch(() => {})
    },
  }
}
