import { setImmediate as nextTurn } from 'node:timers/promises'

/** When settling runs. Times in ms, `backlog` in log rows. */
const IDLE = 120
const LATEST = 1000
const BACKLOG = 20_000
const RETRY = 2000
/** Settling by itself may take about one part in six of the thread. */
const REST = 5

export interface SettleSchedule {
  /** Tells that the log grew to row `last`. */
  readonly grew: (last: number) => void
  /** Resolves once everything up to the newest row known is settled. */
  readonly settle: () => Promise<void>
  readonly stop: () => void
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
  let restUntil = 0
  let stopped = false

  const run = async (): Promise<void> => {
    const start = performance.now()
    let wait = 0
    try {
      while (settled < known && !stopped) {
        settled = options.slice() ?? known
        if (performance.now() - start > LATEST) break
        if (settled < known) await nextTurn()
      }
    } catch (error) {
      wait = RETRY
      throw error
    } finally {
      options.done()
      const end = performance.now()
      restUntil = end + REST * (end - start)
      firstWaiting = 0
      plan(wait)
    }
  }
  // Forgotten from outside: a run that needs no turn of its own is over before it is remembered.
  const runOnce = (): Promise<void> =>
    (running ??= run().finally(() => {
      running = null
    }))

  const plan = (atLeast = 0): void => {
    if (stopped || settled >= known) return
    const now = performance.now()
    if (firstWaiting === 0) firstWaiting = now
    const crowded = known - settled > BACKLOG
    const wait = crowded
      ? 0
      : Math.min(Math.max(IDLE, restUntil - now), firstWaiting + LATEST - now)
    if (timer !== null) clearTimeout(timer)
    timer = setTimeout(
      () => {
        timer = null
        runOnce().catch(options.trouble)
      },
      Math.max(atLeast, wait),
    )
  }

  return {
    grew(last) {
      if (last <= known) return
      known = last
      if (running === null) plan()
    },
    async settle() {
      const goal = known
      while (settled < goal && !stopped) await runOnce()
    },
    stop() {
      stopped = true
      if (timer !== null) clearTimeout(timer)
    },
  }
}
