import type { Trial as Trialed } from '../../../../hub/api/schemas/trial.ts'
import { api } from '../../api.ts'
import { atMost, phChangeWriter, withDoubt } from '../../doubt.ts'
import { dateOnly, num } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { Confirm, FormProblem, useSend } from '../field.tsx'
import { Facts, Why } from '../findings/finding.tsx'
import { Link } from '../link.tsx'
import { Plan } from './plan.tsx'

const DAY = 86_400_000

const VERDICT_WORDS: Readonly<Record<Trialed['result']['verdict'], string>> = {
  planned: 'planned',
  'too early': 'too early to say',
  supported: 'the claim is supported',
  contradicted: 'the claim is contradicted',
  'no measurable effect': 'no measurable effect',
  undecided: 'undecided',
  insufficient: 'not enough to go on',
}
const DIRECTION_WORDS: Readonly<Record<Trialed['direction'], string>> = {
  raises: 'raises the pH',
  lowers: 'lowers the pH',
  changes: 'changes the pH',
}

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
            `${bed.name} (out of use)`
          )}
        </span>
      ))}
    </>
  )
}

/** One claim and what has come out so far. */
export function Trial({ trial, onChanged }: { trial: Trialed; onChanged: () => void }) {
  const { garden, aheadMs } = useHub()
  const { units } = garden
  const { problem, send } = useSend()
  const { result } = trial
  const title = `trial-${trial.id}`
  const days = Math.round((trial.endsAt - trial.startsAt) / DAY)
  const over = trial.givenUpAt !== null || trial.endsAt <= Date.now() + aheadMs
  const act = (work: () => Promise<unknown>): void =>
    send(async () => {
      await work()
      onChanged()
    })
  return (
    <section class="sheet trial" aria-labelledby={title} data-trial={trial.id}>
      <h2 id={title}>&ldquo;{trial.claim}&rdquo;</h2>
      <p class="verdict">
        <strong>{VERDICT_WORDS[result.verdict]}</strong>
        {result.early && ' · looked at before its planned end'}
        {trial.givenUpAt !== null && ` · given up ${dateOnly(trial.givenUpAt, garden)}`}
      </p>
      <p class="sentence">{result.sentence}</p>
      <Facts
        rows={[
          [
            'Effect',
            result.effect === null
              ? null
              : `${withDoubt(result.effect, phChangeWriter(units))} pH, treated against untreated`,
          ],
          [
            'No measurable effect',
            result.notLargerThan === null
              ? null
              : `larger than ${atMost(result.notLargerThan, units)} pH`,
          ],
          ['Put on', trial.material],
          [
            'Claimed',
            `it ${DIRECTION_WORDS[trial.direction]}; from ${num(trial.leastEffect, 2, units)} on it would matter`,
          ],
          ['Treated', <Beds key="t" beds={trial.treated} />],
          ['Untreated', <Beds key="u" beds={trial.untreated} />],
          [
            'Time',
            `${dateOnly(trial.startsAt, garden)} to ${dateOnly(trial.endsAt, garden)}, ${days} days`,
          ],
        ]}
      />
      <Why of={`the verdict on: ${trial.claim}`} grounds={result.grounds} />
      <details class="why">
        <summary>
          How it was planned<span class="unseen">: {trial.claim}</span>
        </summary>
        <Plan plan={trial.plan} days={days} />
      </details>
      <FormProblem problem={problem} fields={[]} />
      <p class="trial-ends">
        {!over && (
          <Confirm
            words="Give up"
            ask={`Give up the trial "${trial.claim}"? What was found so far is kept.`}
            onYes={() => act(() => api.giveUpTrial(trial.id))}
          />
        )}
        <Confirm
          words="Remove"
          ask={`Remove the trial "${trial.claim}" for good? Readings and journal are kept.`}
          onYes={() => act(() => api.removeTrial(trial.id))}
        />
      </p>
    </section>
  )
}
