import { useEffect, useRef, useState } from 'preact/hooks'
import type { Trial as Trialed } from '../../../../hub/api/schemas/trial.ts'
import { api } from '../../api.ts'
import { atMost, daysWords, phChangeWriter, withDoubt } from '../../doubt.ts'
import { dateOnly } from '../../format.ts'
import { useHub, useNow } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'
import { FormProblem, useSend } from '../field.tsx'
import { Confirm } from '../form.tsx'
import { Facts, Why } from '../findings/finding.tsx'
import { Link } from '../link.tsx'
import { Plan } from './plan.tsx'
import { claimedWords, daysOf, phaseOf, VERDICT_WORDS } from './trial-words.ts'

function Beds({ beds }: { beds: Trialed['treated'] }) {
  const inUse = new Set(useHub().beds.map(({ id }) => id))
  return (
    <>
      {beds.map((bed, i) => (
        <span key={bed.id}>
          {i > 0 && ', '}
          {inUse.has(bed.id) ? (
            <Link to={{ page: 'bed', id: bed.id }}>{bed.name}</Link>
          ) : (
            say`${bed.name} (out of use)`
          )}
        </span>
      ))}
    </>
  )
}

/** What has come out, with its interval and its reasons. */
function Outcome({ trial }: { trial: Trialed }) {
  const { garden } = useHub()
  const { units } = garden
  const { result } = trial
  return (
    <>
      <p class="verdict">
        <strong>{said(VERDICT_WORDS[result.verdict])}</strong>
        {result.early && result.effect !== null && <> · {say`looked at before its planned end`}</>}
        {trial.givenUpAt !== null && <> · {say`given up ${dateOnly(trial.givenUpAt, garden)}`}</>}
      </p>
      <p class="sentence">{result.sentence}</p>
      <Facts
        rows={[
          [
            say`Effect`,
            result.effect === null
              ? null
              : say`${withDoubt(result.effect, phChangeWriter(units))} pH, treated against untreated`,
          ],
          [
            say`No measurable effect`,
            result.notLargerThan === null
              ? null
              : say`larger than ${atMost(result.notLargerThan, units)} pH`,
          ],
        ]}
      />
      <Why of={say`the verdict on: ${trial.claim}`} grounds={result.grounds} />
    </>
  )
}

/** A trial that still runs: when it is judged. What is seen so far is told to those who ask for it. */
function Running({ trial, now }: { trial: Trialed; now: number }) {
  const { garden } = useHub()
  const [looking, setLooking] = useState(false)
  const days = daysOf(trial, now)
  // A trial without data is no result: that is told, so that it can be mended in time.
  const anything = trial.result.effect !== null
  return (
    <>
      <p class="verdict">
        <strong>{say`it runs: not before ${dateOnly(trial.endsAt, garden)}`}</strong>
      </p>
      <p class="sentence">{say`${days.gone} of ${daysWords(days.all, garden.units)} have gone by. It is judged at its end, so that nobody stops at the moment that pleases.`}</p>
      {!anything && <p class="sentence">{trial.result.sentence}</p>}
      {anything && (
        <>
          <p>
            <button type="button" aria-expanded={looking} onClick={() => setLooking(!looking)}>
              {looking ? say`Put it away again` : say`Look early all the same`}
              <span class="unseen">: {trial.claim}</span>
            </button>
          </p>
          {looking ? (
            <div class="early">
              <p class="faint">{say`Whoever looks again and again sees luck for an effect some day: before its end only what is very sure counts.`}</p>
              <Outcome trial={trial} />
            </div>
          ) : (
            <p class="faint">{say`A look before the end is told beside what is seen.`}</p>
          )}
        </>
      )}
    </>
  )
}

/** One claim and what has come out so far. */
export function Trial({
  trial,
  first,
  onChanged,
}: {
  trial: Trialed
  /** Whether the page was opened for it. */
  first: boolean
  onChanged: () => void
}) {
  const { garden } = useHub()
  const now = useNow()
  const { problem, send } = useSend()
  const heading = useRef<HTMLHeadingElement>(null)
  useEffect(() => {
    if (first) heading.current?.focus()
  }, [first])
  const title = `trial-${trial.id}`
  const phase = phaseOf(trial, now)
  const days = daysOf(trial, now)
  const act = (work: () => Promise<unknown>): void =>
    send(async () => {
      await work()
      onChanged()
    })
  return (
    <section class="sheet trial" aria-labelledby={title} data-trial={trial.id}>
      <h2 id={title} ref={heading} tabIndex={-1}>
        {say`“${trial.claim}”`}
      </h2>
      {phase === 'running' ? <Running trial={trial} now={now} /> : <Outcome trial={trial} />}
      <Facts
        rows={[
          [say`Put on`, said(trial.material)],
          [say`Claimed`, claimedWords(trial, garden.units)],
          [say`Treated`, <Beds key="t" beds={trial.treated} />],
          [say`Untreated`, <Beds key="u" beds={trial.untreated} />],
          [
            say`Time`,
            say`${dateOnly(trial.startsAt, garden)} to ${dateOnly(trial.endsAt, garden)}, ${daysWords(days.all, garden.units)}`,
          ],
        ]}
      />
      <details class="why">
        <summary>
          {say`How it was planned`}
          <span class="unseen">: {trial.claim}</span>
        </summary>
        <Plan plan={trial.plan} days={days.all} />
      </details>
      <FormProblem problem={problem} fields={[]} />
      <p class="trial-ends">
        {phase !== 'over' && (
          <Confirm
            words={say`Give up`}
            ask={say`Give up the trial "${trial.claim}"? What was found so far is kept.`}
            onYes={() => act(() => api.giveUpTrial(trial.id))}
          />
        )}
        <Confirm
          words={say`Remove`}
          ask={say`Remove the trial "${trial.claim}" for good? Readings and journal are kept.`}
          onYes={() => act(() => api.removeTrial(trial.id))}
        />
      </p>
    </section>
  )
}
