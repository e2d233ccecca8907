import { api } from '../../api.ts'
import { useHub, useLoad } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { FormProblem, useSend } from '../field.tsx'
import { bytes } from './bytes.ts'
import { Damaged } from './damaged.tsx'
import { Facts } from './facts.tsx'
import { RetentionForm } from './retention-form.tsx'
import './storage.css'

/** Emptied space that is worth giving back. */
const WORTH_BYTES = 1e6

/** What readings and records take, when the disk is full, and how long raw readings are kept. */
export function Storage() {
  const { garden, loaded, jobs } = useHub()
  // What a job of these changed is seen when it is over.
  const over = Object.values(jobs).filter(
    ({ kind, endedAt }) => (kind === 'thin' || kind === 'compact') && endedAt !== null,
  ).length
  const storage = useLoad(loaded ? 'storage' : null, api.storage, over)
  const { problem, busy, send } = useSend()
  const { data } = storage
  return (
    <section class="sheet" aria-labelledby="storage-title">
      <h2 id="storage-title">{say`Storage`}</h2>
      {storage.problem !== null && (
        <p class="error" role="alert">
          {say`Could not be fetched: ${storage.problem.detail ?? storage.problem.title}.`}{' '}
          <button type="button" onClick={storage.reload}>
            {say`Fetch again`}
          </button>
        </p>
      )}
      {data !== null && (
        <>
          <p class="sentence" data-testid="disk-forecast">
            {data.sentence}
          </p>
          <Facts storage={data} />
          {data.readings !== null &&
            data.readings.shrinks &&
            data.readings.emptyBytes > WORTH_BYTES && (
              <p class="buttons" data-needs="change">
                <button
                  type="button"
                  disabled={busy}
                  onClick={() => send(async () => void (await api.compact()))}
                >
                  {say`Give ${bytes(data.readings.emptyBytes, garden.units)} back to the disk`}
                </button>
              </p>
            )}
          <FormProblem problem={problem} fields={[]} />
          <Damaged />
          {data.readings !== null && <RetentionForm storage={data} onSaved={storage.reload} />}
        </>
      )}
    </section>
  )
}
