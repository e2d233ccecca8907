/** Long work of the hub. */
export const JOB_KINDS = ['import', 'replay', 'backup', 'rebuild', 'thin', 'compact'] as const
export type JobKind = (typeof JOB_KINDS)[number]

/** What stays of work that was given up half-way; of a backup nothing ever does. */
export interface Kept {
  readonly done: number
  readonly of: number
}

export interface Job {
  readonly id: number
  readonly kind: JobKind
  /** Who began it; null: nobody who has a name. */
  readonly by: string | null
  /** Epoch ms. */
  readonly startedAt: number
  /** 0 to 1, never falling; null: that cannot be told yet. */
  readonly share: number | null
  /** How long it will still take, ms; null: that cannot be told yet, or it is over. */
  readonly leftMs: number | null
  /** `cancelling`: it was given up and comes to a clean end. */
  readonly state: 'running' | 'cancelling' | 'done' | 'cancelled' | 'failed'
  readonly endedAt: number | null
  /** Why it failed. */
  readonly reason: string | null
  readonly kept: Kept | null
  /** What came of it; null until it is done. */
  readonly result: unknown
}

/** Before that much has passed or is done a guess at what is left is worth nothing. */
const GUESS_AFTER_MS = 1000
const GUESS_AFTER_SHARE = 0.01

export const isOver = ({ state }: Job): boolean => state !== 'running' && state !== 'cancelling'

export function begun(id: number, kind: JobKind, by: string | null, at: number): Job {
  return {
    id,
    kind,
    by,
    startedAt: at,
    share: null,
    leftMs: null,
    state: 'running',
    endedAt: null,
    reason: null,
    kept: null,
    result: null,
  }
}

/** The job with a share of it done, 0 to 1. */
export function advanced(job: Job, share: number, at: number): Job {
  if (isOver(job) || !Number.isFinite(share)) return job
  const done = Math.min(1, Math.max(job.share ?? 0, share))
  const passed = at - job.startedAt
  const canGuess = passed >= GUESS_AFTER_MS && done >= GUESS_AFTER_SHARE
  return { ...job, share: done, leftMs: canGuess ? (passed * (1 - done)) / done : null }
}

/** The job once somebody gave it up; one that is over stays as it is. */
export const givenUp = (job: Job): Job =>
  job.state === 'running' ? { ...job, state: 'cancelling', leftMs: null } : job

export type Ending =
  | { readonly state: 'done'; readonly result: unknown }
  | { readonly state: 'cancelled'; readonly kept: Kept | null }
  | { readonly state: 'failed'; readonly reason: string; readonly kept: Kept | null }

export function ended(job: Job, ending: Ending, at: number): Job {
  if (isOver(job)) throw new TypeError(`job ${job.id} is over`)
  const over = { ...job, leftMs: null, endedAt: at, state: ending.state }
  switch (ending.state) {
    case 'done':
      return { ...over, share: 1, result: ending.result }
    case 'cancelled':
      return { ...over, kept: ending.kept }
    case 'failed':
      return { ...over, reason: ending.reason, kept: ending.kept }
  }
}
