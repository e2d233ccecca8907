import type { JobView } from '../../../../hub/api/schemas/job.ts'
import { Link } from '../link.tsx'
import { kindWords, stateWords } from './job-words.ts'

/** One line under the header while something long is under way. */
export function JobLine({ job }: { job: JobView }) {
  return (
    <p class="job-line" data-testid="job-line">
      <Link to={{ page: 'data' }}>{kindWords(job)}</Link>: {stateWords(job)}
    </p>
  )
}
