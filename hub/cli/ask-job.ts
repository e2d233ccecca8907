import type { JobView } from '../api/schemas/job.ts'
import type { AskHub } from './folder-or-hub.ts'
import type { AtWork } from './progress.ts'

const LOOK_EVERY_MS = 500
const OVER = new Set<JobView['state']>(['done', 'cancelled', 'failed'])

const pause = (ms: number): Promise<void> =>
  new Promise((resolve) => {
    setTimeout(resolve, ms)
  })

const jobsNow = async (ask: AskHub): Promise<JobView[]> =>
  (await (await ask('/api/jobs')).json()) as JobView[]

/** Follows a job of the running hub to its end, and gives it up there when it is given up here. */
export async function followJob(ask: AskHub, begun: JobView, at: AtWork): Promise<JobView> {
  let job = begun
  let told = false
  while (!OVER.has(job.state)) {
    if (at.signal.aborted && !told) {
      told = true
      await ask(`/api/jobs/${job.id}/cancel`, { method: 'POST' })
    }
    await pause(LOOK_EVERY_MS)
    job = (await (await ask(`/api/jobs/${job.id}`)).json()) as JobView
    if (job.share !== null) at.tell(job.share)
  }
  return job
}

/** Tells how far the job of a request is that is under way, and gives it up when it is given up here. */
export async function followRequest<T>(
  ask: AskHub,
  kind: JobView['kind'],
  request: Promise<T>,
  at: AtWork,
): Promise<T> {
  let open = true
  const settled = request.finally(() => {
    open = false
  })
  const follow = async (): Promise<void> => {
    let told = false
    while (open) {
      const job = (await jobsNow(ask)).find((one) => one.kind === kind && !OVER.has(one.state))
      if (job !== undefined) {
        if (job.share !== null) at.tell(job.share)
        if (at.signal.aborted && !told) {
          told = true
          await ask(`/api/jobs/${job.id}/cancel`, { method: 'POST' })
        }
      }
      await Promise.race([pause(LOOK_EVERY_MS), settled.catch(() => undefined)])
    }
  }
  // A hub that cannot say how far it is may still answer what was asked.
  await follow().catch(() => undefined)
  return settled
}
