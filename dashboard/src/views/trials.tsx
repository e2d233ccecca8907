import { useEffect, useRef, useState } from 'preact/hooks'
import { api } from '../api.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import '../parts/findings/findings.css'
import { Link } from '../parts/link.tsx'
import { Trial } from '../parts/trials/trial.tsx'
import { TrialForm } from '../parts/trials/trial-form.tsx'
import { said, say, toSay } from '../say.ts'
import { saying } from '../saying.ts'
import { emptyTrial, trialAbout } from '../trial-draft.ts'
import type { TrialDraft } from '../trial-draft.ts'
import { go } from '../use-route.ts'

interface TrialsProps {
  /** A trial to be shown first. */
  readonly trial?: number
  /** A material the page was opened for, and what it is said to do. */
  readonly material?: string
  readonly direction?: TrialDraft['direction']
}

/** What is often said, and seldom measured. */
const SAID = [
  {
    material: toSay('coffee grounds'),
    direction: 'lowers',
    words: toSay('coffee grounds sour the soil'),
  },
  { material: toSay('eggshells'), direction: 'raises', words: toSay('eggshells sweeten it') },
  {
    material: toSay('pine needles'),
    direction: 'lowers',
    words: toSay('pine needles make it acid'),
  },
] as const

/** How to begin, as long as there is no trial. */
function Said() {
  return (
    <section class="sheet" aria-labelledby="said">
      <h2 id="said">{say`No claim is on trial yet`}</h2>
      <p class="sentence">{say`Here a claim meets your own beds: some are treated, some are left alone, and the answer ‘no measurable effect’ is as welcome as any. It is said, for one, that`}</p>
      <ul>
        {SAID.map(({ material, direction, words }) => (
          <li key={material}>
            <Link to={{ page: 'trials', material, direction }}>{said(words)}</Link>
          </li>
        ))}
      </ul>
      <p class="sentence">
        {saying(
          toSay('Or begin with a material of your own, from the table in the {0}.'),
          <Link to={{ page: 'review' }}>{say`review`}</Link>,
        )}
      </p>
    </section>
  )
}

/** Claims put to the test in one's own beds. */
export function TrialsView({ trial: first, material, direction }: TrialsProps) {
  const { loaded, beds, garden, aheadMs, connection } = useHub()
  const [adding, setAdding] = useState(material !== undefined)
  const opener = useRef<HTMLButtonElement>(null)
  const form = useRef<HTMLHeadingElement>(null)
  const opened = useRef(false)
  const enough = beds.length > 1
  const open = adding && enough
  // What had the focus goes away with the form; it must not fall back to the top of the page.
  useEffect(() => {
    if (open) form.current?.focus()
    else if (opened.current) opener.current?.focus()
    opened.current = open
  }, [open])
  // A link on this very page may name a material, too.
  useEffect(() => {
    if (material !== undefined) setAdding(true)
  }, [material])
  const trials = useLoad(loaded ? 'trials' : null, api.trials, connection)
  const newestFirst = trials.data?.toSorted((a, b) => b.startsAt - a.startsAt) ?? []
  const draft = (): TrialDraft => {
    const now = Date.now() + aheadMs
    if (material === undefined) return emptyTrial(now, garden.zone)
    return trialAbout(
      direction === undefined ? { material } : { material, direction },
      now,
      garden.zone,
    )
  }
  return (
    <>
      <div class="page-head">
        <h1>{say`Trials`}</h1>
        {!open && enough && (
          <button
            data-needs="change"
            type="button"
            ref={opener}
            onClick={() => setAdding(true)}
          >{say`Put a claim to the test`}</button>
        )}
      </div>
      {loaded && !enough && (
        <p class="sentence">{say`A trial needs at least two beds: one that is treated and one that is not.`}</p>
      )}
      {open && (
        <section class="sheet" aria-labelledby="new-trial">
          <h2 id="new-trial" ref={form} tabIndex={-1}>{say`A claim put to the test`}</h2>
          <TrialForm
            first={draft}
            onDone={(saved) => {
              setAdding(false)
              // The next one begins empty again.
              if (material !== undefined) go({ page: 'trials' })
              if (saved) trials.reload()
            }}
          />
        </section>
      )}
      {trials.problem !== null && (
        <p class="error" role="alert">
          {say`The trials could not be fetched: ${trials.problem.detail ?? trials.problem.title}.`}{' '}
          <button type="button" onClick={trials.reload}>{say`Fetch again`}</button>
        </p>
      )}
      {trials.data === null && trials.problem === null && (
        <p class="quiet-line">{say`Fetching the trials …`}</p>
      )}
      {trials.data !== null && newestFirst.length === 0 && !open && enough && <Said />}
      {newestFirst.map((trial) => (
        <Trial key={trial.id} trial={trial} first={trial.id === first} onChanged={trials.reload} />
      ))}
    </>
  )
}
