import { useEffect, useRef, useState } from 'preact/hooks'
import { api } from '../api.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import '../parts/findings/findings.css'
import { Trial } from '../parts/trials/trial.tsx'
import { TrialForm } from '../parts/trials/trial-form.tsx'

/** Claims put to the test in one's own beds. */
export function TrialsView() {
  const { loaded, beds, connection } = useHub()
  const [adding, setAdding] = useState(false)
  const opener = useRef<HTMLButtonElement>(null)
  const form = useRef<HTMLHeadingElement>(null)
  const opened = useRef(false)
  // What had the focus goes away with the form; it must not fall back to the top of the page.
  useEffect(() => {
    if (adding) form.current?.focus()
    else if (opened.current) opener.current?.focus()
    opened.current = adding
  }, [adding])
  const trials = useLoad(loaded ? 'trials' : null, api.trials, connection)
  const newestFirst = trials.data?.toSorted((a, b) => b.startsAt - a.startsAt) ?? []
  return (
    <>
      <div class="page-head">
        <h1>Trials</h1>
        {!adding && beds.length > 1 && (
          <button type="button" ref={opener} onClick={() => setAdding(true)}>
            Put a claim to the test
          </button>
        )}
      </div>
      {loaded && beds.length < 2 && (
        <p class="sentence">
          A trial needs at least two beds: one that is treated and one that is not.
        </p>
      )}
      {adding && (
        <section class="sheet" aria-labelledby="new-trial">
          <h2 id="new-trial" ref={form} tabIndex={-1}>
            A claim put to the test
          </h2>
          <TrialForm
            onDone={(saved) => {
              setAdding(false)
              if (saved) trials.reload()
            }}
          />
        </section>
      )}
      {trials.problem !== null && (
        <p class="error" role="alert">
          The trials could not be fetched: {trials.problem.detail ?? trials.problem.title}.{' '}
          <button type="button" onClick={trials.reload}>
            Fetch again
          </button>
        </p>
      )}
      {trials.data === null && trials.problem === null && (
        <p class="quiet-line">Fetching the trials …</p>
      )}
      {trials.data !== null && newestFirst.length === 0 && !adding && (
        <p class="sentence">
          No claim is on trial yet. It is said that coffee grounds sour the soil, that eggshells
          sweeten it: here such a claim meets your own beds, with the answer &lsquo;no measurable
          effect&rsquo; as welcome as any.
        </p>
      )}
      {newestFirst.map((trial) => (
        <Trial key={trial.id} trial={trial} onChanged={trials.reload} />
      ))}
    </>
  )
}
