import { Link } from '../link.tsx'
import { isOver, kindWords, stateWords } from './job-words.ts'
import { useJobs } from './use-jobs.ts'

/** One line under the header while something long is under way. */
export function JobLine() {
  const job = useJobs().find((one) => !isOver(one))
  if (job === undefined) return null
  return (
    <p class="job-line" data-testid="job-line">
      <Link to={{ page: 'data' }}>{kindWords(job)}</Link>: {stateWords(job)}
    </p>
  )
}
