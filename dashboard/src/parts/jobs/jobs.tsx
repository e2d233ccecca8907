import type { JobView } from '../../../../hub/api/schemas/job.ts'
import { api } from '../../api.ts'
import { dateTime } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { FormProblem, useSend } from '../field.tsx'
import { isOver, kindWords, stateWords } from './job-words.ts'
import { useJobs } from './use-jobs.ts'
import './jobs.css'

function Told({
  title,
  rows,
  count,
}: {
  title: string
  rows: readonly { at: number; bed: string; sentence: string }[]
  count: number
}) {
  const { garden } = useHub()
  if (count === 0) return null
  return (
    <details class="past">
      <summary>{`${title} (${count})`}</summary>
      <ul class="spot-list">
        {rows.map(({ at, bed, sentence }) => (
          <li key={`${at} ${bed} ${sentence}`}>
            <p>
              {dateTime(at, garden)} · {bed}
            </p>
            <p class="sentence">{sentence}</p>
          </li>
        ))}
      </ul>
    </details>
  )
}

function JobEntry({ job }: { job: JobView }) {
  const { garden } = useHub()
  const { busy, problem, send } = useSend()
  return (
    <li class="job" data-testid="job">
      <p>
        <b>{kindWords(job)}</b>, {dateTime(job.startedAt, garden)}
        {job.by === null ? '' : `, ${job.by}`}
      </p>
      {!isOver(job) && (
        <progress
          max={1}
          aria-label={kindWords(job)}
          {...(job.share === null ? {} : { value: job.share })}
        />
      )}
      <p class="sentence">{stateWords(job)}</p>
      {job.state === 'running' && (
        <p class="buttons" data-needs="change">
          <button
            type="button"
            disabled={busy}
            onClick={() => send(async () => void (await api.cancelJob(job.id)))}
          >
            {say`Give it up`}
          </button>
        </p>
      )}
      <FormProblem problem={problem} fields={[]} />
      {job.replayed !== null && (
        <>
          <Told
            title={say`Changes of level`}
            rows={job.replayed.changes}
            count={job.replayed.changesCount}
          />
          <Told title={say`Alarms`} rows={job.replayed.alarms} count={job.replayed.alarmsCount} />
        </>
      )}
    </li>
  )
}

/** What takes long: what is under way, what came of the last, and beginning some. */
export function Jobs() {
  const jobs = useJobs()
  const { busy, problem, send } = useSend()
  const underWay = (kind: JobView['kind']): boolean =>
    jobs.some((job) => job.kind === kind && !isOver(job))
  return (
    <section class="sheet" aria-labelledby="jobs-title">
      <h2 id="jobs-title">{say`Long work`}</h2>
      <p class="sentence">{say`A replay goes through everything stored with the rules of today and says what they would have raised. Making hours and days anew is for a store that somebody or something has touched; readings stay as they are.`}</p>
      <p class="buttons" data-needs="change">
        <button
          type="button"
          disabled={busy || underWay('replay')}
          onClick={() => send(async () => void (await api.startJob({ kind: 'replay' })))}
        >
          {say`Go through the past again`}
        </button>
        <button
          type="button"
          disabled={busy || underWay('rebuild')}
          onClick={() => send(async () => void (await api.startJob({ kind: 'rebuild' })))}
        >
          {say`Make hours and days anew`}
        </button>
      </p>
      <FormProblem problem={problem} fields={[]} />
      {jobs.length === 0 ? (
        <p class="faint">{say`Nothing has run since the hub started.`}</p>
      ) : (
        <ul class="spot-list" aria-live="polite">
          {jobs.map((job) => (
            <JobEntry key={job.id} job={job} />
          ))}
        </ul>
      )}
    </section>
  )
}
