import type { Job } from '../../jobs/job.ts'
import type { JobView, Replayed } from '../schemas/job.ts'

/** What work of the hub comes to: a number that says how much, and of a replay what it told. */
export interface JobResult {
  readonly done: number
  readonly replayed?: Replayed
}

export function jobView({ result, ...job }: Job): JobView {
  const came = result as JobResult | null
  return {
    ...job,
    kept: job.kept === null ? null : { ...job.kept },
    done: came?.done ?? null,
    replayed: came?.replayed ?? null,
  }
}
