import { HubError } from '../errors.ts'
import type { Clock } from '../model/clock.ts'
import {
  advanced,
  begun,
  ended,
  givenUp,
  isOver,
  type Job,
  type JobKind,
  type Kept,
} from './job.ts'

/** What work has in hand. */
export interface Control {
  /** Aborted once somebody gave it up. Work looks at it between two slices and returns. */
  readonly signal: AbortSignal
  /** How much is done, 0 to 1. */
  readonly tell: (share: number) => void
  /** What would stay if it ended now. */
  readonly keep: (kept: Kept | null) => void
}

export interface Started<T> {
  readonly job: Job
  /** Its result; null when it was given up. Rejects with what made it fail. */
  readonly result: Promise<T | null>
}

export interface Jobs {
  /** Begins work; null when one of the kind is under way. */
  start<T>(kind: JobKind, by: string | null, work: (at: Control) => Promise<T>): Started<T> | null
  /** Those under way, and the last ones that are over; newest first. */
  list(): readonly Job[]
  get(id: number): Job | null
  /** Gives one up; null for an unknown one. One that is over stays as it is. */
  cancel(id: number): Job | null
  /** Gives up all and waits for their clean end. */
  stop(): Promise<void>
}

/** So many that are over are remembered, until the hub ends. */
const MOST_KEPT = 20
/** Who looks on need not hear of every slice. */
const TELL_EVERY_MS = 500

export function openJobs(options: {
  readonly clock: Clock
  /** Hears of every change worth showing. */
  readonly onChange: (job: Job) => void
  /** A mistake of ours within work. */
  readonly onFatal: (error: unknown) => void
}): Jobs {
  const { clock, onChange, onFatal } = options
  const jobs = new Map<number, Job>()
  const aborts = new Map<number, AbortController>()
  const running = new Map<number, Promise<unknown>>()
  let nextId = 1

  function put(job: Job): Job {
    jobs.set(job.id, job)
    const over = [...jobs.values()].filter(isOver)
    for (const { id } of over.slice(0, Math.max(0, over.length - MOST_KEPT))) jobs.delete(id)
    onChange(job)
    return job
  }

  async function run<T>(
    id: number,
    abort: AbortController,
    work: (at: Control) => Promise<T>,
  ): Promise<T | null> {
    let kept: Kept | null = null
    let toldAt = -Infinity
    const end = (ending: Parameters<typeof ended>[1]): void => {
      put(ended(jobs.get(id)!, ending, clock()))
    }
    try {
      const result = await work({
        signal: abort.signal,
        tell(share) {
          const now = clock()
          const job = advanced(jobs.get(id)!, share, now)
          jobs.set(id, job)
          if (now - toldAt < TELL_EVERY_MS) return
          toldAt = now
          onChange(job)
        },
        keep(what) {
          kept = what
        },
      })
      if (abort.signal.aborted) {
        end({ state: 'cancelled', kept })
        return null
      }
      end({ state: 'done', result })
      return result
    } catch (error) {
      if (abort.signal.aborted && !(error instanceof HubError)) {
        end({ state: 'cancelled', kept })
        return null
      }
      const reason = error instanceof Error ? error.message : String(error)
      end({ state: 'failed', reason, kept })
      throw error
    }
  }

  function cancel(id: number): Job | null {
    const job = jobs.get(id)
    if (job === undefined) return null
    if (job.state !== 'running') return job
    const now = put(givenUp(job))
    aborts.get(id)?.abort()
    return now
  }

  return {
    start(kind, by, work) {
      if ([...jobs.values()].some((job) => job.kind === kind && !isOver(job))) return null
      const id = nextId++
      const abort = new AbortController()
      aborts.set(id, abort)
      const job = put(begun(id, kind, by, clock()))
      const result = run(id, abort, work)
      running.set(
        id,
        result
          // Somebody else's fault was told with the job; ours ends the hub.
          .catch((error: unknown) => {
            if (!(error instanceof HubError) && (error as Error).name !== 'ApiProblem')
              onFatal(error)
          })
          .finally(() => {
            running.delete(id)
            aborts.delete(id)
          }),
      )
      return { job, result }
    },
    list: () => [...jobs.values()].toReversed(),
    get: (id) => jobs.get(id) ?? null,
    cancel,
    async stop() {
      for (const id of running.keys()) cancel(id)
      await Promise.all(running.values())
    },
  }
}
