import type { JobView } from '../../../../hub/api/schemas/job.ts'
import { firstApi } from '../../first-api.ts'
import { useHub, useLoad } from '../../hub-context.tsx'

/** Long work under way and the last that is over, newest first; kept fresh by what the hub tells. */
export function useJobs(): readonly JobView[] {
  const { jobs: heard, loaded, connection } = useHub()
  const fetched = useLoad(loaded ? 'jobs' : null, firstApi.jobs, connection)
  const all = new Map<number, JobView>((fetched.data ?? []).map((job) => [job.id, job]))
  for (const job of Object.values(heard)) {
    const known = all.get(job.id)
    if (known === undefined || known.endedAt === null) all.set(job.id, job)
  }
  return [...all.values()].toSorted((a, b) => b.id - a.id)
}
